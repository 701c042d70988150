// What this tab remembers over a reload. A browser may forbid storing, or have no room: then it is remembered until the page is left.

const here = new Map();

function stored(act) {
  try {
    return act();
  } catch {
    return null;
  }
}

export const forTab = {
  /** A text, or null. */
  get: (key) => here.get(key) ?? stored(() => sessionStorage.getItem(key)),
  /** null forgets it. */
  set(key, text) {
    if (text === null) here.delete(key);
    else here.set(key, text);
    stored(() => (text === null ? sessionStorage.removeItem(key) : sessionStorage.setItem(key, text)));
  },
};
