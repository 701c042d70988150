// Tells a screen reader. Polite by default; a text is said once, and at most one every two seconds, so that live views do not chatter.

const kEveryMs = 2000;
let waiting = null, last = 0;

export function say(text, urgent = false) {
  if (urgent) return (document.getElementById("urgent").textContent = text);
  const first = waiting === null;
  waiting = text;
  if (!first) return;
  setTimeout(() => {
    document.getElementById("polite").textContent = waiting;
    waiting = null;
    last = Date.now();
  }, Math.max(0, last + kEveryMs - Date.now()));
}
