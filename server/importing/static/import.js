// A file may be dropped on the form; the cells of the question in hand are marked.

const form = document.querySelector(".drop");
if (form instanceof HTMLFormElement) {
  const field = form.querySelector('input[type="file"]');
  const over = (/** @type {boolean} */ on) => form.classList.toggle("over", on);
  form.addEventListener("dragover", (event) => {
    event.preventDefault();
    over(true);
  });
  form.addEventListener("dragleave", () => over(false));
  form.addEventListener("drop", (event) => {
    event.preventDefault();
    over(false);
    const files = event.dataTransfer?.files;
    if (files?.length && field instanceof HTMLInputElement) {
      field.files = files;
      form.requestSubmit();
    }
  });
}

for (const question of document.querySelectorAll("[data-question]")) {
  const number = question.getAttribute("data-question") ?? "";
  const mark = (/** @type {boolean} */ on) => {
    for (const cell of document.querySelectorAll("[data-questions]")) {
      const its = (cell.getAttribute("data-questions") ?? "").split(" ");
      if (its.includes(number)) cell.classList.toggle("shown", on);
    }
  };
  for (const [event, on] of /** @type {[string, boolean][]} */ ([
    ["focusin", true],
    ["focusout", false],
    ["mouseenter", true],
    ["mouseleave", false],
  ])) {
    question.addEventListener(event, () => mark(on));
  }
}
