// Scanning ticks what leaves. Without this file the scan field and its button do the same through the server.
"use strict";

import { setUpMark } from "./mark.js";

const form = document.getElementById("release");

function tick(code) {
  const box = form.querySelector(`input[name="pieces"][data-codes~="${code}"]`);
  const said = document.getElementById("scan-said");
  if (!box) return false;
  const words = box.closest("label").querySelector("[data-words]").textContent;
  if (box.disabled) said.textContent = `Not ticked: ${words}, ${box.dataset.stopped}.`;
  else {
    said.textContent = box.checked ? `Ticked already: ${words}.` : `Ticked: ${words}.`;
    box.checked = true;
    box.closest("label").scrollIntoView({ block: "nearest" });
  }
  count();
  return true;
}

function count() {
  const boxes = [...form.querySelectorAll('input[name="pieces"]')];
  const ticked = boxes.filter((box) => box.checked).length;
  document.getElementById("tick-count").textContent = `${ticked} of ${boxes.length} ticked`;
}

if (form) {
  form.addEventListener("change", count);
  // A scanner with nothing focused. A code that is not on this page goes to the search, as everywhere.
  document.addEventListener("scan", (event) => {
    if (tick(event.detail.code)) event.preventDefault();
  });
  const field = form.elements.scan;
  field.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    const code = field.value.replace(/[\s-]/g, "");
    if (!/^\d{10}$/.test(code) || !tick(code)) return; // the server says what is wrong with it
    event.preventDefault();
    field.value = "";
  });
  setUpMark(
    document.getElementById("mark-pad"),
    form.elements.mark,
    document.getElementById("mark-clear"),
    document.getElementById("mark-said"),
  );
  count();
}
