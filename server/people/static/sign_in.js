// Takes the code out of the link into the form, and out of the address bar and the history.
/** @type {(mark: string) => any} */
const part = (mark) => document.querySelector("[data-sign-in]" + mark);
const code = decodeURIComponent(location.hash.slice(1));
if (code) {
  part("").elements.code.value = code;
  part(" [data-code]").hidden = true;
  history.replaceState(null, "", location.pathname);
  part(" button").focus();
}
