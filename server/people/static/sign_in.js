// Takes the code out of the link into the form, and out of the address bar and the history.
const form = document.querySelector("[data-sign-in]");
const code = decodeURIComponent(location.hash.slice(1));
if (code) {
  form.elements.code.value = code;
  form.querySelector("[data-code]").hidden = true;
  history.replaceState(null, "", location.pathname);
  form.querySelector("button").focus();
}
