/** Where the person is: "#/visit/ID" is the screen "visit" of "ID". */

interface Place {
  screen: string;
  id: string;
  query: URLSearchParams;
}

function read(): Place {
  const [path = "", query = ""] = location.hash.replace(/^#\/?/, "").split("?");
  const [screen = "", id = ""] = path.split("/");
  return { screen: screen || "today", id: decodeURIComponent(id), query: new URLSearchParams(query) };
}

let current = $state.raw(read());
let steps = 0;

export function place(): Place {
  return current;
}

export function go(screen: string, id = "", query: Record<string, string> = {}): void {
  const asked = new URLSearchParams(query).toString();
  steps++;
  location.hash = `/${screen}${id ? `/${encodeURIComponent(id)}` : ""}${asked ? `?${asked}` : ""}`;
}

export function replace(screen: string, id = "", query: Record<string, string> = {}): void {
  const asked = new URLSearchParams(query).toString();
  history.replaceState(null, "", `#/${screen}${id ? `/${encodeURIComponent(id)}` : ""}${asked ? `?${asked}` : ""}`);
  current = read();
}

/** Back to where the person came from; to `otherwise` when they opened this screen from outside. */
export function back(otherwise = "today", id = ""): void {
  if (steps > 0) {
    steps--;
    history.back();
  } else replace(otherwise, id);
}

addEventListener("hashchange", () => (current = read()));
