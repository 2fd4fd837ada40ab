// Scanning ticks what leaves. Without this file the scan field and its button do the same through the server.
"use strict";

import { setUpMark } from "./mark.js";

// The first digit of codes that stand on things: a piece, a lug, a package, a box.
const THING = /^[2345]\d{9}$/;
const form = document.getElementById("release");

// What an earlier scan was answered is over once another one is good.
function clearOldNotices() {
  document.getElementById("messages").replaceChildren();
  document.getElementById("refused")?.remove();
  document.getElementById("pieces-refused")?.remove();
}

function tick(code) {
  const box = form.querySelector(`input[name="pieces"][data-codes~="${code}"]`);
  const said = document.getElementById("scan-said");
  if (!box) return false;
  clearOldNotices();
  const words = box.closest("label").querySelector("[data-words]").textContent;
  said.classList.toggle("error", box.disabled);
  if (box.disabled) said.textContent = `Not ticked: ${words}, ${box.dataset.stopped}.`;
  else {
    said.textContent = box.checked ? `Ticked already: ${words}.` : `Ticked: ${words}.`;
    box.checked = true;
    box.closest("label").scrollIntoView({ block: "nearest" });
  }
  count();
  return true;
}

// The server knows why a code is not to be ticked here; what was typed and drawn goes along and comes back.
function ask(code) {
  form.elements.scan.value = code;
  form.requestSubmit(form.querySelector('button[value="tick"]'));
}

function count() {
  const boxes = [...form.querySelectorAll('input[name="pieces"]')];
  const ticked = boxes.filter((box) => box.checked).length;
  document.getElementById("tick-count").textContent = `${ticked} of ${boxes.length} ticked`;
}

if (form) {
  form.addEventListener("change", count);
  // A scanner with nothing focused. A claim slip or a shelf goes to the search, as everywhere.
  document.addEventListener("scan", (event) => {
    if (!form.isConnected) return; // the answer to a form has taken its place, with a script of its own
    const { code } = event.detail;
    if (!form.isConnected) return; // the page was answered anew: its own script listens now
    if (tick(code)) event.preventDefault();
    else if (THING.test(code)) {
      event.preventDefault();
      ask(code);
    }
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
