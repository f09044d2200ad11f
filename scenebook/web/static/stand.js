// The stand's page: shows what the gig says, and asks it for steps. It owns no state of the gig.
"use strict";
(() => {
  const root = document.documentElement;
  const LOOKS = ["", "paper", "night"];
  const LOST_MS = 2500, ASKED_MS = 6000, BOUNCE_MS = 250, WAIT_MS = 3000, MOST = 10;
  const kept = (name, value) => { try { return value === undefined ? localStorage[name] : (localStorage[name] = value); } catch { return ""; } };
  root.dataset.look = kept("look") || "";

  document.addEventListener("DOMContentLoaded", () => {
    const body = document.body, stand = document.getElementById("stand");
    if (!stand) return;
    const may = body.dataset.may === "step";
    const at = (id) => document.getElementById(id);
    let spoken = "", typed = null, asked = null, heard = Date.now(), sending = Promise.resolve(), unfinished = false;

    const speak = (words) => { at("spoken").textContent = words; };
    const tell = (id, words) => { at(id).textContent = words; at(id).hidden = !words; fit(); };
    // What was typed or chosen and not yet asked stays: a new state may come between the two touches.
    const chosen = (node) => node.localName === "input" ? node.value !== node.defaultValue : node.localName === "select" && node.selectedIndex > 0;
    function show(html) {
      Idiomorph.morph(stand, html, { morphStyle: "innerHTML", ignoreActiveValue: true, callbacks: {
        beforeAttributeUpdated: (name, node) => !(name === "data-asked" || (name === "open" && node.localName === "dialog")),
        beforeNodeMorphed: (node) => !(node.dataset && node.dataset.touched) && node.id !== "screens" && !chosen(node),
      } });
      if (unfinished) tell("told", "");
      unfinished = false;
      settle();
    }
    function settle() {
      const header = stand.querySelector("header");
      if (header) document.title = header.dataset.title;
      if (header && header.dataset.spoken !== spoken) speak(spoken = header.dataset.spoken);
      if (at("look")) at("look").textContent = `Look: ${root.dataset.look || "as the system"}`;
      fit();
    }
    function fit() {
      const main = stand.querySelector("main");
      if (!main || body.dataset.view !== "player") return;
      let size = 0;
      do root.dataset.fit = size; while (main.scrollHeight > main.clientHeight + 1 && ++size <= MOST);
      if (size > MOST) main.tabIndex = 0; else main.removeAttribute("tabindex");
    }

    // Following the gig: the newest state, and a sign of life every second.
    let source = null, joined = 0;
    function join() {
      if (source) source.close();
      joined = heard = Date.now();
      source = new EventSource(`/events?view=${body.dataset.view}`);
      source.addEventListener("stand", (event) => { alive(); show(event.data); });
      source.addEventListener("alive", alive);
      source.onerror = () => { lose(); if (source.readyState === EventSource.CLOSED) why(); };
    }
    function alive() {
      heard = Date.now();
      if (!at("lost").hidden) { at("lost").hidden = true; tell("told", ""); speak("Connected again. " + spoken); }
    }
    function lose() {
      if (!at("lost").hidden) return;
      at("lost").hidden = false;
      speak("Connection lost. What stands here may be old.");
      fit();
    }
    const why = () => fetch("/api/state").then((answer) => {
      if (answer.status === 401) tell("told", "This stand asks for a new key: open the address that it gives now.");
    }).catch(() => {});
    setInterval(() => {
      if (!document.hidden && Date.now() - heard > LOST_MS) {
        lose();
        if (Date.now() - joined > LOST_MS) join();
      }
      listen();
    }, 500);

    // Whether keys and pedals reach the page.
    function listen() {
      const deaf = may && (document.hidden || !document.hasFocus());
      if (at("deaf").hidden === !deaf) return;
      at("deaf").hidden = !deaf;
      speak(deaf ? "Not listening: keys and pedals do not reach this page." : "Listening again. " + spoken);
      fit();
    }
    for (const name of ["focus", "blur"]) window.addEventListener(name, listen);
    document.addEventListener("visibilitychange", () => {
      listen();
      if (!document.hidden) join();
      else source.close(); // a browser has few connections to one host, and forgotten windows would use them up
    });

    // Asking. One thing after the other, so that two quick steps keep their order.
    function act(wanted) {
      forget();
      sending = sending.then(() => ask(wanted));
      return sending;
    }
    async function ask(wanted) {
      try {
        const posted = { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(wanted) };
        const answer = await fetch("/api/act", { ...posted, signal: AbortSignal.timeout(WAIT_MS) });
        const words = await answer.json().catch(() => ({}));
        unfinished = answer.status === 202;
        if (answer.ok) {
          if (words.unfinished) speak(words.unfinished);
          return tell("told", words.unfinished || "");
        }
        const said = words.error || `the stand answered ${answer.status}`;
        tell("told", `▲ Not done: ${said}`);
        speak(`Not done: ${said}`);
      } catch {
        tell("told", `▲ Not known whether it was done: ${wanted.verb}. The stand did not answer.`);
        if (Date.now() - heard > 1000) lose();
      }
    }
    const place = ([part, entry, form]) => ({ part, entry: Number(entry), form: Number(form) });
    function wanted(button, by) {
      const asks = { verb: button.dataset.verb, by }, form = button.closest("form");
      const given = { ...(form ? Object.fromEntries(new FormData(form)) : {}), ...button.dataset };
      for (const name of ["unit", "other", "text"]) if (given[name] !== undefined) asks[name] = given[name];
      if (given.place) asks.place = place(given.place.split("/"));
      if (asks.verb === "key" || asks.verb === "tempo") delete asks.unit;
      return asks;
    }

    // What asks once: the first touch says what it will do, the second does it.
    let button = null, since = 0, timer = 0;
    function forget() {
      clearTimeout(timer);
      if (button) delete button.dataset.asked;
      button = typed = asked = null;
      tell("asked", "");
    }
    function press(pressed, by) {
      const set = pressed.dataset;
      if (set.open || set.close !== undefined) return turn(set.open, by === "key");
      if (set.look !== undefined) return look();
      if (set.screens !== undefined) return screens(pressed);
      if (!set.verb || (pressed === button && Date.now() - since < BOUNCE_MS)) return;
      if (set.ask !== undefined && pressed !== button) {
        forget();
        [button, since] = [pressed, Date.now()];
        set.asked = "";
        speak(`${pressed.textContent.trim()}`);
        timer = setTimeout(forget, ASKED_MS);
        return;
      }
      const asks = wanted(pressed, by), form = pressed.closest("form");
      for (const field of form ? form.elements : []) delete field.dataset.touched;
      act(asks);
      if (["go", "resume the set", "line check"].includes(asks.verb)) turn();
    }
    stand.addEventListener("input", (event) => { event.target.dataset.touched = ""; });
    stand.addEventListener("submit", (event) => event.preventDefault());

    // The sheets over the page.
    let byKey = false;
    function turn(id, keyed) {
      forget();
      for (const sheet of stand.querySelectorAll("dialog[open]")) {
        sheet.close(); // gives the focus back, which only who works by keys wants
        if (!byKey) document.activeElement.blur();
        if (sheet.id === id) return;
      }
      byKey = keyed;
      if (!id) return;
      at(id).show();
      at(id).querySelector("[data-close]").focus();
    }
    function look() {
      const next = LOOKS[(LOOKS.indexOf(root.dataset.look) + 1) % LOOKS.length];
      kept("look", root.dataset.look = next);
      settle();
      speak(at("look").textContent);
    }
    async function screens(pressed) {
      const keys = await fetch("/api/keys").then((answer) => answer.json()).catch(() => null);
      if (!keys || !keys.see) return tell("told", "▲ The keys could not be read.");
      const shown = [["To look on", keys.see], ["To step", keys.step]].map(([title, each]) => {
        const box = document.createElement("div"), said = document.createElement("p");
        said.textContent = `${title}: ${each.address}${keys.shared ? "" : " (this machine alone)"}`;
        box.innerHTML = each.qr;
        box.prepend(said);
        return box;
      });
      pressed.parentElement.replaceChildren(pressed, ...shown);
    }

    document.addEventListener("click", (event) => {
      const pressed = event.target.closest?.("button");
      if (!pressed) return;
      press(pressed, event.detail === 0 ? "key" : event.pointerType === "touch" ? "touch" : "page");
      if (event.detail !== 0 && !pressed.dataset.open) pressed.blur(); // so that the space bar turns the page again
    });

    // Keys; page-turner pedals are keyboards.
    const VERBS = { pagedown: "next", arrowright: "next", " ": "next", pageup: "back", arrowleft: "back", s: "safe", a: "send again" };
    document.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const field = event.target.closest?.("input, select, textarea"), key = event.key;
      if (key === "Escape") return escape(field);
      if (!may || body.dataset.view !== "player" || field) return;
      if ((key === " " || key === "Enter") && !(typed || asked) && event.target.closest?.("button:focus-visible, a:focus-visible")) return;
      const verb = VERBS[key.toLowerCase()];
      if (verb) {
        event.preventDefault();
        if (!event.repeat) act({ verb, by: "key" });
      } else if (/^[0-9]$/.test(key) || (key.toLowerCase() === "c") || key === "Backspace") type(key);
      else if (key === "Enter" && (typed || asked)) {
        event.preventDefault();
        if (!event.repeat) enter();
      }
      else if (key.toLowerCase() === "r" && at("resume")) {
        asked = { verb: "resume the set", by: "key" };
        tell("asked", "Resume the set: Enter does it, Escape takes it back.");
      } else if (key.toLowerCase() === "t" && at("take-now")) {
        forget();
        asked = { verb: "take over", by: "key" };
        tell("asked", "Take over: this stand sends from now on. Enter does it, Escape takes it back.");
        speak(at("asked").textContent);
      } else if (key.toLowerCase() === "g" && !event.repeat) turn("go", true);
    });
    function escape(field) {
      if (field) field.blur();
      else if (typed || asked || button) forget();
      else { tell("told", ""); turn(); }
    }
    function type(key) {
      const before = typed || { digits: "", cue: false };
      forget();
      typed = /^[0-9]$/.test(key) ? { ...before, digits: (before.digits + key).slice(-4) }
        : key === "Backspace" ? { ...before, digits: before.digits.slice(0, -1) } : { ...before, cue: !before.cue };
      tell("asked", `Go to ${typed.cue ? "cue" : "song"} ${typed.digits || "…"}: Enter shows it, C changes between song and cue, Escape takes it back.`);
      speak(at("asked").textContent);
    }
    async function enter() {
      if (asked) return act(asked);
      if (!typed || !typed.digits) return;
      const { digits, cue } = typed, number = Number(digits);
      const programme = await fetch("/api/programme").then((answer) => answer.json()).catch(() => null);
      if (!programme || !typed || typed.digits !== digits) return;
      typed = null;
      const found = programme.steps.find((step) => cue ? step.number === number : step.place.entry === number - 1 && number > 0);
      if (!found) {
        tell("asked", `The gig has no ${cue ? "cue" : "song"} ${digits}.`);
        timer = setTimeout(forget, ASKED_MS);
      } else {
        asked = { verb: "go", place: found.place, by: "key" };
        tell("asked", `Go to ${digits}: ${[found.song, found.scene].filter(Boolean).join(", ") || "home"}. Everything is sent. Enter does it, Escape takes it back.`);
      }
      speak(at("asked").textContent);
    }

    for (const event of ["resize", "load"]) window.addEventListener(event, fit);
    document.fonts?.ready.then(fit);
    for (const begins of [settle, listen, join]) begins();
  });
})();
