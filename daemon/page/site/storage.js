// What this tab remembers over a reload. A browser may forbid storing, or have no room.

export const forTab = {
  /** A text, or null. */
  get(key) {
    try {
      return sessionStorage.getItem(key);
    } catch {
      return null;
    }
  },
  /** null forgets it. Is it remembered, or forgotten, from now on? */
  set(key, text) {
    try {
      if (text === null) sessionStorage.removeItem(key);
      else sessionStorage.setItem(key, text);
      return true;
    } catch {
      return false;
    }
  },
};
