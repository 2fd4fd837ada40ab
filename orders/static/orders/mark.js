// The collector's mark: drawn with a finger or a pen, kept as strokes of points from 0 to 1000.
"use strict";

const RANGE = 1000;
const MOST_POINTS = 4000;
const LEAST_STEP = 6;

export function setUpMark(pad, field, clear, say) {
  const canvas = pad.querySelector("canvas");
  const pen = canvas.getContext("2d");
  let strokes = read(field.value);
  let points = strokes.reduce((sum, stroke) => sum + stroke.length, 0);
  let drawing = null;

  function draw() {
    const ratio = window.devicePixelRatio || 1;
    const box = canvas.getBoundingClientRect();
    canvas.width = Math.round(box.width * ratio);
    canvas.height = Math.round(box.height * ratio);
    pen.lineWidth = 2.5 * ratio;
    pen.lineCap = pen.lineJoin = "round";
    pen.strokeStyle = "#000";
    for (const stroke of strokes) {
      pen.beginPath();
      stroke.forEach(([x, y], at) => {
        const place = [(x * canvas.width) / RANGE, (y * canvas.height) / RANGE];
        if (at === 0) pen.moveTo(...place);
        pen.lineTo(...place);
      });
      if (stroke.length === 1) pen.lineTo((stroke[0][0] * canvas.width) / RANGE + 0.1, (stroke[0][1] * canvas.height) / RANGE);
      pen.stroke();
    }
  }

  function place(event) {
    const box = canvas.getBoundingClientRect();
    const within = (value) => Math.max(0, Math.min(RANGE, Math.round(value * RANGE)));
    return [within((event.clientX - box.left) / box.width), within((event.clientY - box.top) / box.height)];
  }

  function keep() {
    field.value = strokes.length ? JSON.stringify(strokes) : "";
    say.textContent = strokes.length ? "The mark is drawn." : "Nothing is drawn yet.";
  }

  canvas.addEventListener("pointerdown", (event) => {
    if (event.button !== 0 || points >= MOST_POINTS) return;
    event.preventDefault();
    canvas.setPointerCapture(event.pointerId);
    drawing = [place(event)];
    points += 1;
    strokes.push(drawing);
    draw();
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!drawing || points >= MOST_POINTS) return;
    for (const each of event.getCoalescedEvents?.() ?? [event]) {
      const [x, y] = place(each);
      const [lastX, lastY] = drawing[drawing.length - 1];
      if (Math.abs(x - lastX) + Math.abs(y - lastY) < LEAST_STEP || points >= MOST_POINTS) continue;
      drawing.push([x, y]);
      points += 1;
    }
    draw();
  });
  for (const end of ["pointerup", "pointercancel"]) {
    canvas.addEventListener(end, () => {
      if (!drawing) return;
      drawing = null;
      keep();
    });
  }
  clear.addEventListener("click", () => {
    strokes = [];
    points = 0;
    keep();
    draw();
  });
  window.addEventListener("resize", draw);
  pad.hidden = false;
  draw();
  keep();
}

function read(text) {
  try {
    const found = JSON.parse(text || "[]");
    const sound = (point) => Array.isArray(point) && point.length === 2 && point.every(Number.isFinite);
    return Array.isArray(found) ? found.filter((stroke) => Array.isArray(stroke) && stroke.length && stroke.every(sound)) : [];
  } catch {
    return [];
  }
}
