// Calls to the server. A newer pull of the same place takes the place of an older one.

const random = new Uint32Array(4);
crypto.getRandomValues(random);
export const TAB = Array.from(random, (n) => n.toString(36)).join("");

export class Fault extends Error {
  constructor(status, told) {
    super(told.message ?? "the case has faults");
    this.status = status;
    this.faults = told.faults ?? [];
  }
}

async function told(response) {
  if (response.ok) return response;
  let content = {};
  try {
    content = await response.json();
  } catch {
    content = { message: `the server answered ${response.status}` };
  }
  throw new Fault(response.status, content);
}

export async function get(path) {
  return (await told(await fetch(path))).json();
}

export async function post(path, body, signal) {
  const response = await fetch(path, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
    signal,
  });
  return (await told(response)).json();
}

export async function scene(id, signal) {
  return (await told(await fetch(`api/pulls/${id}/scene`, { signal }))).arrayBuffer();
}

export function listen(hear) {
  const source = new EventSource(`api/progress/${TAB}`);
  source.onmessage = (message) => hear(JSON.parse(message.data));
}

// Pulls of one place: `pull` gives null where a newer one, or `drop`, came between.
export class Puller {
  constructor(place) {
    this.place = place;
    this.running = null;
  }

  // answered(got) is told of the answer as soon as it is there, before its scene.
  async pull(table, detail, answered) {
    this.running?.abort();
    const mine = (this.running = new AbortController());
    try {
      const body = { case: table, detail, tab: TAB, place: this.place };
      const got = await post("api/pulls", body, mine.signal);
      if (this.running !== mine) return null;
      answered(got);
      got.scene = await scene(got.id, mine.signal);
      return this.running === mine ? got : null;
    } catch (error) {
      if (error.name === "AbortError" || error.status === 409) return null;
      if (this.running !== mine) return null;
      throw error;
    } finally {
      if (this.running === mine) this.running = null;
    }
  }

  drop() {
    if (!this.running) return;
    this.running.abort();
    this.running = null;
    post("api/drop", { tab: TAB, place: this.place }).catch(() => {});
  }
}
