// What every view may want to know, and who wants to hear when it changes. One object, changed only by link.js.

class News {
  #wanted = new Map();
  /** Calls `hear(detail)` at each `topic`; the answer ends that. */
  on(topic, hear) {
    const all = this.#wanted.get(topic) ?? this.#wanted.set(topic, new Set()).get(topic);
    all.add(hear);
    return () => all.delete(hear);
  }
  tell(topic, detail) {
    for (const hear of [...(this.#wanted.get(topic) ?? [])]) hear(detail);
  }
}

/**
 * Topics: link, health, benches (state below has changed); jobs, runs, nights (fetch again); live (a Live message);
 * token (a Problem: the daemon asks who this is).
 */
export const news = new News();

export const state = {
  /** up; lost: the daemon is out of reach; deaf: it answers, but live messages do not come; asking: it wants a token. */
  link: "up",
  linkSince: null, ///< Date of the last change to lost or deaf
  retryAt: null, ///< Date of the next attempt
  health: null, ///< Health of the API, null before the first answer
  benches: [], ///< Bench of the API
};
