// Shows of each part only the details that its choice asks for. Without this script all of them are in sight.
"use strict";

function asked(element) {
  return new Set((element?.dataset.wants ?? "").split(" ").filter(Boolean));
}

function show(box, wanted) {
  for (const detail of box.querySelectorAll(":scope > [data-detail]")) {
    const wrong = detail.querySelector(".error") !== null;
    detail.hidden = !wanted.has(detail.dataset.detail) && !wrong;
  }
}

function refresh(part) {
  const chosen = part.querySelector(".chips input:checked");
  const list = part.querySelector(".split select[name$='__second']");
  const [first, second] = part.querySelectorAll(".details");
  show(first, asked(chosen));
  show(second, asked(list?.selectedOptions[0]));
}

function markChanged(part) {
  const mark = part.querySelector(".house");
  if (mark) mark.hidden = part.dataset.start !== answers(part);
}

function answers(part) {
  const fields = part.querySelectorAll("input:not([type='hidden']), select");
  return JSON.stringify([...fields].map((field) => (field.type === "radio" ? field.checked : field.value)));
}

for (const part of document.querySelectorAll(".cut-sheet .part")) {
  refresh(part);
  part.dataset.start = answers(part);
  part.addEventListener("change", () => {
    refresh(part);
    markChanged(part);
  });
}
