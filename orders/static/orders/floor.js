// The keypad beside a weight. Without it the field takes the number from the keyboard.
"use strict";

for (const pad of document.querySelectorAll("[data-keypad]")) {
  const fields = [...pad.closest("form").querySelectorAll("[data-number]")];
  let field = fields[0];
  if (!field) continue;
  const choose = (chosen) => {
    field = chosen;
    for (const each of fields) each.classList.toggle("keyed", each === field);
  };
  for (const each of fields) {
    each.inputMode = "none"; // this keypad, not the one that covers half of the screen
    each.addEventListener("focus", () => choose(each));
  }
  choose(fields.find((each) => each.getAttribute("aria-invalid") === "true") || field);
  pad.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-key]");
    if (!button) return;
    const key = button.dataset.key;
    if (key === "back") field.value = field.value.replace(/(; |.)$/, "");
    else if (key === "; ") fields[0].value = fields[0].value && `${fields[0].value.trim()}; `;
    else field.value += key;
    if (key === "; ") choose(fields[0]);
  });
}
