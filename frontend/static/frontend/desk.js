/* The desk: single keys, words kept while they are typed, and what arrived meanwhile.
   Every page works without this file. */

const KEYS_OFF = "desk-keys-off";
const KEEP_AFTER = 1500;
const ASK_EVERY = 30000;

/* single keys, which can be switched off (the choice stays in this browser) */

const remembered = {
  get off() {
    try {
      return localStorage.getItem(KEYS_OFF) === "1";
    } catch {
      return false;
    }
  },
  set off(value) {
    try {
      localStorage.setItem(KEYS_OFF, value ? "1" : "0");
    } catch {
      /* a browser that keeps nothing: the switch holds for this page */
    }
  },
};

let keysOff = remembered.off;

function isTyping(element) {
  return element.closest("input, textarea, select, [contenteditable]") !== null;
}

function openForm(id) {
  const form = document.getElementById(id);
  if (!form) {
    return;
  }
  form.open = true;
  const field = form.querySelector("input[type=radio]:checked, input[type=radio], textarea");
  form.scrollIntoView({ block: "end" });
  field?.focus({ preventScroll: true });
}

function rows() {
  return [...document.querySelectorAll("[data-rows] td > a:first-child")];
}

function step(by) {
  const links = rows();
  if (links.length === 0) {
    return false;
  }
  const at = links.indexOf(document.activeElement);
  const next = at < 0 ? (by > 0 ? 0 : links.length - 1) : at + by;
  links[Math.min(links.length - 1, Math.max(0, next))].focus();
  return true;
}

function onKey(event) {
  const form = event.target.closest?.("form[data-keep]");
  if (event.key === "Enter" && (event.ctrlKey || event.metaKey) && form) {
    event.preventDefault();
    form.requestSubmit(form.querySelector("button:not([data-keep-button])"));
    return;
  }
  if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) {
    return;
  }
  if (event.key === "Escape") {
    if (isTyping(document.activeElement)) {
      document.activeElement.blur();
      return;
    }
    for (const open of document.querySelectorAll("#keys[open], details.decide[open]")) {
      open.open = false;
    }
    return;
  }
  if (isTyping(event.target)) {
    return;
  }
  if (event.key === "?") {
    const help = document.getElementById("keys");
    help.open = !help.open;
    help.querySelector("summary").focus();
    event.preventDefault();
    return;
  }
  if (event.key === "ArrowDown" || event.key === "ArrowUp") {
    const inRows = document.activeElement?.closest("[data-rows]") || !keysOff;
    if (inRows && step(event.key === "ArrowDown" ? 1 : -1)) {
      event.preventDefault();
    }
    return;
  }
  if (keysOff || event.key.length !== 1) {
    return;
  }
  const wanted = event.key.toLowerCase();
  const target = document.querySelector(`[data-key="${CSS.escape(wanted)}"]`);
  if (target) {
    event.preventDefault();
    if (target.dataset.opens) {
      openForm(target.dataset.opens);
    } else {
      target.click();
      if (target.matches("summary")) {
        target.focus(); /* what it opens may lie below the edge of the window */
      }
    }
  }
}

document.addEventListener("keydown", onKey);

document.addEventListener("click", (event) => {
  const opener = event.target.closest("[data-opens]");
  if (opener && !event.ctrlKey && !event.metaKey) {
    event.preventDefault();
    openForm(opener.dataset.opens);
  }
});

for (const choice of document.querySelectorAll("[data-keys-switch]")) {
  choice.checked = !keysOff;
  choice.addEventListener("change", () => {
    keysOff = !choice.checked;
    remembered.off = keysOff;
  });
}

/* words are kept while they are typed; only what a hand has touched is sent */

function keep(form) {
  const touched = new Map();
  let timer = 0;
  let sent = false;

  async function send() {
    clearTimeout(timer);
    if (touched.size === 0 || sent) {
      return;
    }
    const body = new FormData();
    body.set("csrfmiddlewaretoken", form.elements.csrfmiddlewaretoken.value);
    body.set("version", form.elements.version.value);
    for (const [name, value] of touched) {
      body.set(name, value);
    }
    touched.clear();
    const said = form.querySelector("[data-kept]");
    try {
      const answer = await fetch(form.dataset.keep, {
        method: "POST",
        body,
        headers: { Accept: "application/json" },
        keepalive: true,
      });
      said.textContent = (await answer.json()).said;
    } catch {
      for (const [name, value] of body) {
        if (name !== "csrfmiddlewaretoken" && name !== "version") {
          touched.set(name, touched.get(name) ?? value);
        }
      }
      timer = setTimeout(send, KEEP_AFTER * 4);
    }
  }

  form.addEventListener("input", (event) => {
    if (event.target.name) {
      touched.set(event.target.name, event.target.value);
      clearTimeout(timer);
      timer = setTimeout(send, KEEP_AFTER);
    }
  });
  form.addEventListener("submit", () => {
    sent = true;
    clearTimeout(timer);
  });
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden") {
      send();
    }
  });
}

for (const form of document.querySelectorAll("form[data-keep]")) {
  keep(form);
}

/* a form that is open when the page comes (a refusal, or ?do=…) is brought into view */

const wanted = document.querySelector("details.decide[open]");
if (wanted && !document.getElementById("errors") && !document.getElementById("meanwhile")) {
  wanted.scrollIntoView({ block: "end" });
}

/* what arrived while the page was read: said, never moved in */

const bar = document.getElementById("arrived");
if (bar?.dataset.url) {
  const ask = async () => {
    if (document.visibilityState !== "visible") {
      return;
    }
    try {
      const answer = await fetch(`${bar.dataset.url}?after=${bar.dataset.after}`, {
        headers: { Accept: "application/json" },
      });
      if (!answer.ok || answer.redirected) {
        return;
      }
      const { n, words } = await answer.json();
      const line = bar.querySelector("[data-words]");
      if (line.textContent !== words) {
        line.textContent = words;
      }
      bar.querySelector("[data-show]").hidden = n === 0;
    } catch {
      /* no network just now: the next question comes soon */
    }
  };
  setInterval(ask, ASK_EVERY);
  document.addEventListener("visibilitychange", ask);
}
