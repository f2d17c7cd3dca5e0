// Calls to the server. A newer pull of the same place takes the place of an older one.

export const newName = () => Array.from(crypto.getRandomValues(new Uint32Array(4)), (n) => n.toString(36)).join("");
export const TAB = newName();

const SILENT = "The program behind this page does not answer. Is `fejoint page` still running?";

export class Fault extends Error {
  constructor(status, told) {
    super(told.message ?? "the case has faults");
    this.status = status; // 0: nobody answered
    this.faults = told.faults ?? [];
  }
}

async function call(path, options) {
  let response;
  try {
    response = await fetch(path, options);
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Fault(0, { message: SILENT });
  }
  if (response.ok) return response;
  let content;
  try {
    content = await response.json();
  } catch {
    content = { message: `the server answered ${response.status}` };
  }
  throw new Fault(response.status, content);
}

export async function get(path) {
  return (await call(path)).json();
}

export async function post(path, body, signal) {
  const response = await call(path, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
    signal,
  });
  return response.json();
}

export function listen(hear) {
  const source = new EventSource(`api/progress/${TAB}`);
  source.onmessage = (message) => hear(JSON.parse(message.data));
}

// Pulls of one place, one at a time.
export class Puller {
  constructor(place) {
    this.place = place;
    this.running = null;
  }

  // answered(got) is told of the answer as soon as it is there, before its scene. Gives null where
  // `drop` came between.
  async pull(table, detail, answered) {
    const mine = (this.running = new AbortController());
    try {
      const body = { case: table, detail, tab: TAB, place: this.place };
      const got = await post("api/pulls", body, mine.signal);
      if (this.running !== mine) return null;
      answered(got);
      got.scene = await (await call(`api/pulls/${got.id}/scene`, { signal: mine.signal })).arrayBuffer();
      return this.running === mine ? got : null;
    } catch (error) {
      if (error.name === "AbortError" || this.running !== mine) return null;
      throw error;
    } finally {
      if (this.running === mine) this.running = null;
    }
  }

  // The server sees that nobody waits any more.
  drop() {
    this.running?.abort();
    this.running = null;
  }
}
