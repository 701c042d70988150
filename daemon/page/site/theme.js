// Which of the two palettes: the one chosen, else the system's. Runs before the first paint, so that nothing flashes; no module, for that reason.
const midstickTheme = {
  system: matchMedia("(prefers-color-scheme: dark)"),
  /** "system", "light" or "dark". Storage may be forbidden; the system's is right then. */
  chosen() {
    try {
      return localStorage.getItem("midstick-theme") ?? "system";
    } catch {
      return "system";
    }
  },
  choose(theme) {
    try {
      localStorage.setItem("midstick-theme", theme);
    } catch {
      // Then it holds until the page is left.
    }
    this.apply(theme);
  },
  apply(theme = this.chosen()) {
    document.documentElement.dataset.theme = theme !== "system" ? theme : this.system.matches ? "dark" : "light";
    dispatchEvent(new Event("theme"));
  },
};
midstickTheme.apply();
midstickTheme.system.addEventListener("change", () => midstickTheme.apply());
