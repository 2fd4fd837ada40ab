// The scanner as a keyboard, wherever the page's focus is, and forms that are sent once.
"use strict";

document.documentElement.classList.add("script");

const GAP_MS = 80; // a scanner's digits come faster than this; a person's do not
const BLANK_MS = 300; // after a scan: the same label read twice by one pull of the trigger
const CODE = /^\d{10}$/;
const BADGE = /^\d{12}$/;

let digits = "";
let lastKeyAt = -Infinity;
let blankUntil = -Infinity;

function isTyping(element) {
  if (!element || element === document.body || element.hasAttribute("data-scan")) return false;
  if (element.isContentEditable || element.matches("textarea, select")) return true;
  return element.matches("input") && !/^(button|submit|reset|checkbox|radio|image|file|color|range)$/.test(element.type);
}

function deliver(scanned) {
  const scan = new CustomEvent("scan", { detail: { code: scanned }, cancelable: true });
  if (!document.dispatchEvent(scan)) return; // the page has taken it
  if (BADGE.test(scanned) && sendBadge(scanned)) return;
  const box = document.querySelector("[data-scan]");
  if (!box) return;
  box.value = scanned;
  box.form.requestSubmit();
}

function sendBadge(scanned) {
  const form = document.getElementById("badge-form");
  if (!form) return false;
  form.elements.badge.value = scanned;
  form.requestSubmit();
  return true;
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || isTyping(document.activeElement)) {
    digits = "";
    return;
  }
  const now = event.timeStamp;
  const isDigit = /^[0-9]$/.test(event.key);
  const ends = event.key === "Enter" || event.key === "Tab";
  if (now < blankUntil && (isDigit || ends)) {
    event.preventDefault();
    return;
  }
  if (now - lastKeyAt > GAP_MS) digits = "";
  lastKeyAt = now;
  if (isDigit) {
    digits += event.key;
  } else if (ends) {
    const scanned = digits;
    digits = "";
    if (!CODE.test(scanned) && !BADGE.test(scanned)) return;
    event.preventDefault(); // neither press the focused button nor leave the box
    blankUntil = now + BLANK_MS;
    deliver(scanned);
  } else if (event.key !== "Shift") {
    digits = "";
  }
});

// A badge typed or scanned into the scan box does not travel in an address.
document.addEventListener("submit", (event) => {
  const box = event.target.querySelector("[data-scan]");
  if (!box || !BADGE.test(box.value.trim()) || event.defaultPrevented) return;
  if (sendBadge(box.value.trim())) {
    box.value = "";
    event.preventDefault();
  }
});

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.getAttribute("method")?.toLowerCase() !== "post") return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  const buttons = [...form.elements].filter((element) => element.type === "submit");
  // Afterwards: a disabled button would not send its own name and value.
  setTimeout(() => buttons.forEach((button) => (button.disabled = true)));
});

function release(form) {
  delete form.dataset.sent;
  for (const element of form.elements) if (element.type === "submit") element.disabled = false;
}

document.addEventListener("sent-in-vain", (event) => release(event.detail.form));

window.addEventListener("pageshow", () => {
  document.documentElement.classList.remove("sending");
  for (const form of document.querySelectorAll("form[data-sent]")) release(form);
});
