// The pad beside the PIN field. Without it the field takes the digits from the keyboard.
"use strict";

for (const pad of document.querySelectorAll("[data-pad]")) {
  const field = document.getElementById(pad.dataset.pad);
  pad.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-key]");
    if (!button) return;
    const key = button.dataset.key;
    if (key === "back") field.value = field.value.slice(0, -1);
    else if (field.value.length < 8) field.value += key;
  });
}
