// On a phone the list comes first: what to mind is folded away, but for paper.
const cautions = /** @type {HTMLDetailsElement} */ (document.querySelector("details.caution"));
if (matchMedia("(max-width: 699px)").matches) cautions.open = false;
addEventListener("beforeprint", () => { cautions.open = true; });
