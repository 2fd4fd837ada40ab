// Shows of the intake form only what can be asked of an animal that came this way. Without it all is in sight.
"use strict";

for (const form of document.querySelectorAll("form.intake")) {
  const refresh = () => {
    const came = form.dataset.cameAs ?? form.querySelector("input[name='arrived_as']:checked")?.value;
    for (const box of form.querySelectorAll("[data-came]")) {
      const wrong = box.querySelector(".error") !== null;
      box.hidden = Boolean(came) && !wrong && !box.dataset.came.split(" ").includes(came);
    }
  };
  form.addEventListener("change", refresh);
  refresh();
}
