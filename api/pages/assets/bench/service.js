// Talks with the service: the newest question wins, problems become values.

/** A problem document (RFC 9457) thrown as an error. */
export class Problem extends Error {
  constructor(document) {
    super(document.detail || document.title || "The service did not answer.");
    this.document = document;
  }
}

const UNREACHED = {
  title: "The service cannot be reached",
  detail: "No answer came. Check that the service runs and that the network is there; "
    + "your edits are kept on this page.",
};

/** Do what the service may answer with a problem, which goes to `otherwise`. */
export async function attempt(action, otherwise) {
  try {
    return await action();
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    return otherwise(error.document);
  }
}

/** Keep a value for this window, and for the next one that is opened; a page without storage works
 * as well and forgets. */
export function keep(name, value) {
  try {
    const text = JSON.stringify(value);
    sessionStorage.setItem(name, text);
    localStorage.setItem(name, text);
  } catch { /* nothing is kept */ }
}

/** What this window kept, else what the last one did. */
export function kept(name) {
  try {
    return JSON.parse(sessionStorage.getItem(name) ?? localStorage.getItem(name));
  } catch {
    return null;
  }
}

const MOST_TRIES = 5; // again, where the service has no turn now
const MOST_WAIT_S = 60; // in all

let tellWait = () => {};

/** Let the page tell what waits for a turn: `tell(path, words)`, with "" for words once it is asked again. */
export const onWait = (tell) => { tellWait = tell; };

/** Wait for so many seconds, or throw as fetch does where the question is withdrawn meanwhile. */
const pause = (seconds, signal) => new Promise((done, withdrawn) => {
  const end = setTimeout(done, 1000 * seconds);
  signal?.addEventListener("abort", () => {
    clearTimeout(end);
    withdrawn(new DOMException("", "AbortError"));
  }, { once: true });
});

/** Seconds after which to ask again what was turned away before it began, longer each time; null where it was not. */
function againIn({ status, headers }, tries) {
  const wait = Number(headers.get("Retry-After") ?? NaN) * tries;
  return [429, 503].includes(status) && wait > 0 ? wait : null;
}

async function ask(path, options = {}) {
  let response;
  let waited = 0;
  for (let tries = 1; ; tries += 1) {
    try {
      response = await fetch(path, options);
    } catch (error) {
      if (error.name === "AbortError") throw error;
      throw new Problem(UNREACHED);
    }
    if (response.ok) return response;
    const wait = againIn(response, tries);
    waited += wait ?? 0;
    if (wait === null || tries > MOST_TRIES || waited > MOST_WAIT_S) break;
    tellWait(path, `asked again in ${wait} s, ${tries} of ${MOST_TRIES} times`);
    try {
      await pause(wait, options.signal);
    } finally {
      tellWait(path, "");
    }
  }
  let document;
  try {
    document = await response.json();
  } catch {
    document = { title: `The service answered ${response.status}`, detail: "It gave no reason." };
  }
  throw new Problem({ status: response.status, ...document });
}

/** Post a job to an address of the service; the answer, or the service's problem thrown. */
export function post(address, job, signal) {
  return ask(`/v1/${address}`, {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(job), signal,
  });
}

const PLOT_FILES = { geojson: "application/geo+json", json: "application/geo+json", dxf: "image/vnd.dxf", csv: "text/csv" };

/** The plot that a file draws, by what its name ends in; throws the service's problem. */
export async function readPlot(file) {
  const kind = PLOT_FILES[file.name.split(".").at(-1).toLowerCase()];
  if (!kind) throw new Problem({ detail: "A plot is read from files that end in .geojson, .json, .dxf or .csv." });
  return (await ask("/v1/plot-file", { method: "POST", headers: { "Content-Type": kind }, body: file })).json();
}

export async function getJson(path) {
  return (await ask(path, { headers: { Accept: "application/json" } })).json();
}

let running = null;

/** Split the flow. Aborts the solve before it; resolves to null where a newer one came. */
export async function solve(job) {
  running?.abort();
  const mine = new AbortController();
  running = mine;
  try {
    const response = await post("split", job, mine.signal);
    const answer = await response.json();
    return running === mine ? answer : null;
  } catch (error) {
    if (error.name === "AbortError" || running !== mine) return null;
    throw error;
  }
}

/** What the service has against a text as JSON, with the place; "" where it has nothing. */
export async function faultOfText(text) {
  const asked = ask("/v1/split", { method: "POST", headers: { "Content-Type": "application/json" }, body: text });
  return attempt(() => asked.then(() => ""), ({ type, detail }) =>
    (type === "/v1/problems/malformed-json" ? detail.replace("The body is not JSON", "It is not JSON") : ""));
}

/** Forget the solve that is running, if any. */
export function abandon() {
  running?.abort();
  running = null;
}

/** Save a file that the page made. */
export function save(blob, filename) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = filename;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

/** File name of a job: letters and digits of its name. */
export function stemOf({ name }) {
  return String(name ?? "").toLowerCase().replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-+|-+$/g, "").slice(0, 60)
    || "array";
}

export function saveJob(job) {
  save(new Blob([`${JSON.stringify(job, null, 2)}\n`], { type: "application/json" }), `${stemOf(job)}-job.json`);
}

/** Save what an address answers to a job; throws the service's problem where it does not. */
export async function download(address, job, ending = address.replace("/", "-"), signal = undefined) {
  const response = await post(address, job, signal);
  save(await response.blob(), `${stemOf(job)}-${ending}`);
}
