// A form is sent from within its page. Done: the browser goes on. Refused: the answer stands in the form's own place
// in the history, so that Back leads to the page before the form. Without this file the browser sends it itself.
"use strict";

{
  let again = 0; // a module runs once for each address; so it gets a new one
  let leaving = false; // by a link that was tapped meanwhile: that counts

  const isOurs = (form) =>
    form.getAttribute("method")?.toLowerCase() === "post" && !form.matches("[target], [hx-post]");

  function filledIn(form, button) {
    const facts = new FormData(form);
    if (button?.name) facts.append(button.name, button.value);
    return form.enctype === "multipart/form-data" ? facts : new URLSearchParams(facts);
  }

  function goTo(address) {
    const to = new URL(address, location.href);
    const sameDocument = to.hash && to.pathname === location.pathname && to.search === location.search;
    if (!sameDocument) return location.assign(to);
    location.hash = to.hash;
    location.reload();
  }

  async function send(form, button) {
    const action = form.getAttribute("action") ?? form.dataset.from ?? "";
    const address = new URL(action, location.href).href;
    const busy = document.documentElement.classList;
    let answer, text;
    busy.add("sending");
    leaving = false;
    try {
      answer = await fetch(address, {
        method: "POST",
        body: filledIn(form, button),
        headers: { "X-Sent-By": "page", Accept: "text/html" },
      });
      text = await answer.text();
    } catch {
      busy.remove("sending");
      return say(form, "The shop’s computer did not answer. Nothing typed is lost: send it again.");
    }
    const next = answer.headers.get("X-Goes-To");
    // Somebody has gone on already, and this page ends before that; or it was a download, and this page is still here.
    if (next) return leaving ? setTimeout(goTo, 1500, next) : goTo(next);
    busy.remove("sending");
    const page = new DOMParser().parseFromString(text, "text/html");
    if (answer.ok || answer.status === 422) return show(page, address);
    const words = page.querySelector("main")?.textContent.replace(/\s+/g, " ").trim();
    say(form, words || "That did not work. Nothing typed is lost.");
  }

  // Something that is no answer to what was typed: the page stays as it is, and the form can be sent again.
  function say(form, words) {
    document.dispatchEvent(new CustomEvent("sent-in-vain", { detail: { form } }));
    const notice = document.createElement("p");
    notice.className = "notice refused";
    notice.textContent = words;
    const messages = document.getElementById("messages");
    messages.replaceChildren(notice);
    messages.scrollIntoView({ block: "nearest" });
  }

  // The answer in place of the page: its looks, its body, its scripts.
  function show(page, address) {
    document.title = page.title;
    const looks = 'link[rel="stylesheet"]';
    const known = new Set([...document.head.querySelectorAll(looks)].map((link) => link.href));
    const wanted = [...page.head.querySelectorAll(looks)];
    for (const link of wanted) if (!known.has(link.href)) document.head.append(document.importNode(link));
    const kept = new Set(wanted.map((link) => link.href));
    for (const link of document.head.querySelectorAll(looks)) if (!kept.has(link.href)) link.remove();
    document.body.replaceWith(document.adoptNode(page.body));
    for (const form of document.querySelectorAll("form:not([action])")) form.dataset.from = address;
    for (const script of page.head.querySelectorAll("meta[name='page'] ~ script[src]")) run(script);
    window.htmx?.process(document.body);
    scrollTo(0, 0);
    const field = document.querySelector("main [autofocus]") ?? document.getElementById("main");
    field?.focus({ preventScroll: true });
    document.querySelector("main .error, main [aria-invalid='true']")?.scrollIntoView({ block: "center" });
  }

  function run(script) {
    const copy = document.createElement("script");
    copy.src = script.type === "module" ? `${script.getAttribute("src")}?${(again += 1)}` : script.getAttribute("src");
    copy.type = script.type;
    document.body.append(copy);
  }

  window.addEventListener("beforeunload", () => (leaving = true));

  document.addEventListener("submit", (event) => {
    if (event.defaultPrevented || !isOurs(event.target)) return;
    event.preventDefault();
    send(event.target, event.submitter);
  });
}
