// Holds the connection: one WebSocket for news, and a look at the daemon's health now and then to see that it is still there.
// A lost connection is told at once and tried again after 0.5, 1, 2, 4, 8 and then every 10 seconds.

import { Problem, address, get, openSession } from "./api.js";
import { news, state } from "./state.js";

const kFirstMs = 500, kMostMs = 10_000;
const kLookEveryMs = 5000, kLookPatienceMs = 4000;
const kSessionEveryMs = 3_600_000; ///< a session lasts for some hours; a page may stay open for weeks

let socket = null, tries = 0, timer = null, attempt = 0;

function openSocket() {
  const url = address("live");
  url.protocol = url.protocol === "https:" ? "wss:" : "ws:";
  return new WebSocket(url);
}

function become(link) {
  if (state.link === link) return;
  if (link === "lost" || link === "deaf") state.linkSince ??= new Date();
  else state.linkSince = null;
  state.link = link;
  news.tell("link");
}

function later() {
  clearTimeout(timer);
  const wait = Math.min(kMostMs, kFirstMs * 2 ** tries++);
  state.retryAt = new Date(Date.now() + wait);
  timer = setTimeout(connect, wait);
  news.tell("link");
}

async function look(signal) {
  const [health, benches] = await Promise.all([get("health", {}, signal, kLookPatienceMs), get("benches", {}, signal, kLookPatienceMs)]);
  state.health = health;
  state.benches = benches;
  news.tell("health");
  news.tell("benches");
}

function dropped(error) {
  socket?.close();
  socket = null;
  if (error instanceof Problem && error.status === 401) return become("asking");
  become(error instanceof Problem ? "deaf" : "lost");
  later();
}

/** Tries now. Safe to call at any time; an attempt under way is given up for the new one. */
export async function connect() {
  clearTimeout(timer);
  const mine = ++attempt;
  state.retryAt = null;
  socket?.close();
  socket = null;
  try {
    await openSession();
    await look();
  } catch (error) {
    if (mine === attempt) dropped(error);
    return;
  }
  if (mine !== attempt) return;
  const s = (socket = openSocket());
  let greeted = false;
  s.onmessage = ({ data }) => {
    const message = JSON.parse(data);
    if (!greeted) {
      greeted = true;
      tries = 0;
      const back = state.link !== "up";
      become("up");
      if (back) for (const topic of ["jobs", "runs", "nights"]) news.tell(topic);
    }
    hear(message);
  };
  s.onclose = () => {
    if (socket !== s) return;
    socket = null;
    // Until a look has said otherwise, the daemon itself may be gone.
    become("lost");
    look().then(() => attempt === mine && become("deaf"), () => {}).finally(() => attempt === mine && later());
  };
}

function hear(message) {
  if (message.type === "live") return news.tell("live", message);
  if (message.type !== "changed") return;
  if (message.what === "benches" || message.what === "health") look().catch(() => {});
  else news.tell(message.what, message.id);
}

/** Begins, and goes on for as long as the page is open. */
export function begin() {
  connect();
  setInterval(() => {
    if (state.link === "up" && socket) look().catch((error) => ++attempt && dropped(error));
  }, kLookEveryMs);
  setInterval(() => openSession().catch(() => {}), kSessionEveryMs);
  addEventListener("offline", () => ++attempt && dropped(new Error("offline")));
  addEventListener("online", connect);
}
