import "./design/tokens.css";
import "./design/base.css";
import { mount } from "svelte";
import { call } from "./api/http";
import App from "./App.svelte";
import { register } from "./device/offline.svelte";
import { connection, look, lookAround, whenBack } from "./keep/connection.svelte";
import { drain, openQueue } from "./keep/queue.svelte";
import { apply, settings, whenChanged } from "./keep/settings.svelte";
import { loadWords } from "./words/words.svelte";

apply();
// the words and the question who we are travel at the same time
await Promise.all([loadWords(settings.language), look()]);
const target = document.getElementById("app")!;
target.replaceChildren();
mount(App, { target });

whenChanged((all) => {
  if (connection.reached && connection.role !== "read-only")
    void call("put", "/api/v1/settings", { body: all }).catch(() => undefined);
});
whenBack(() => {
  void look().then(drain);
});
const later = (work: () => void): void => {
  if ("requestIdleCallback" in window) requestIdleCallback(work, { timeout: 2000 });
  else setTimeout(work, 500);
};
later(() => {
  void openQueue();
  void lookAround();
  void register();
});
