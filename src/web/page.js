// Saves the reload, and nothing else: without it every form and link does the same.
"use strict";
(() => {
  const said = document.createElement("div");
  said.className = "aside";
  said.setAttribute("role", "status");
  document.body.append(said);

  // Puts the main part of an answer in the place of this one, and says what changed.
  const show = async (answer, push) => {
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const next = page.querySelector("main");
    const main = document.querySelector("main");
    if (!next || !main) {
      location.assign(answer.url);
      return;
    }
    main.replaceWith(next);
    document.title = page.title;
    if (push) history.pushState(null, "", answer.url);
    const news = next.querySelector("[role=alert]") || next.querySelector("[data-say]");
    said.textContent = news ? news.textContent : "";
    settle();
  };

  document.addEventListener("submit", (event) => {
    const form = event.target;
    const button = event.submitter;
    if (!form.hasAttribute("data-quick") || (button && button.hasAttribute("data-whole"))) return;
    event.preventDefault();
    const body = new URLSearchParams(new FormData(form, button));
    const before = document.activeElement && document.activeElement.closest("section, article");
    const place = before ? before.id : "";
    const section = form.closest("section[id]");
    const top = section ? section.getBoundingClientRect().top : 0;
    fetch(form.action, { method: "POST", body })
      .then((answer) => show(answer, true))
      .then(() => {
        // What comes next stands where the thumb is.
        const next = section && document.getElementById(section.id);
        if (next) scrollBy({ top: next.getBoundingClientRect().top - top, behavior: "instant" });
        const again = place && document.getElementById(place);
        const focus = (again && again.querySelector("h2, h3")) || document.querySelector("#standing, main");
        if (focus) {
          focus.setAttribute("tabindex", "-1");
          focus.focus({ preventScroll: true });
        }
      })
      .catch(() => {
        said.textContent = "The page could not be reached. Start fairwhy serve again; what was said is kept.";
        said.className = "caution";
      });
  });

  addEventListener("popstate", () => location.reload());

  // A form that asks again as one types or taps.
  let waiting = 0;
  const again = (form) => {
    clearTimeout(waiting);
    waiting = setTimeout(() => {
      const address = form.getAttribute("action") + "?" + new URLSearchParams(new FormData(form));
      fetch(address)
        .then((answer) => answer.text())
        .then((text) => {
          const page = new DOMParser().parseFromString(text, "text/html");
          const held = document.activeElement;
          for (const part of document.querySelectorAll("[data-part]")) {
            const next = page.getElementById(part.id);
            if (next) part.replaceWith(next);
          }
          if (held && held.id && !held.isConnected) document.getElementById(held.id)?.focus();
          history.replaceState(null, "", address);
          const news = document.querySelector("[data-say]");
          said.textContent = news ? news.textContent : "";
        })
        .catch(() => {});
    }, 200);
  };
  for (const kind of ["input", "change"]) {
    document.addEventListener(kind, (event) => {
      const form = event.target.form;
      if (form && form.hasAttribute("data-again")) again(form);
    });
  }

  const settle = () => {
    for (const button of document.querySelectorAll("[data-print]")) {
      button.hidden = false;
      button.onclick = () => print();
    }
  };
  settle();
})();
