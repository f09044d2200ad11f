// What counts as a touch: one finger that goes down and up on the same button, nearly still and not for long. A click that
// comes of anything else (a palm, a sleeve, a second finger, a hand that rests) ends here.
"use strict";
(() => {
  const STILL_PX = 12, HELD_MS = 1500;
  const down = new Map();
  const button = (event) => event.target.closest?.("button");
  let clean = false;

  document.addEventListener("pointerdown", (event) => {
    down.set(event.pointerId, event);
    clean = down.size === 1 && event.isPrimary;
  }, true);
  document.addEventListener("pointermove", (event) => {
    const began = down.get(event.pointerId);
    if (began && Math.hypot(event.clientX - began.clientX, event.clientY - began.clientY) > STILL_PX) clean = false;
  }, true);
  for (const name of ["pointerup", "pointercancel"]) {
    document.addEventListener(name, (event) => {
      const began = down.get(event.pointerId);
      down.delete(event.pointerId);
      const ended = name === "pointerup" && began && button(event) === button(began);
      if (!ended || event.timeStamp - began.timeStamp > HELD_MS) clean = false;
    }, true);
  }
  document.addEventListener("click", (event) => {
    if (event.pointerType !== "touch" || clean) return;
    event.preventDefault();
    event.stopImmediatePropagation();
  }, true);
})();
