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

async function ask(path, options = {}) {
  let response;
  try {
    response = await fetch(path, options);
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Problem(UNREACHED);
  }
  if (response.ok) return response;
  let document;
  try {
    document = await response.json();
  } catch {
    document = { title: `The service answered ${response.status}`, detail: "It gave no reason." };
  }
  throw new Problem({ status: response.status, ...document });
}

/** Post a request; the answer, or the service's problem thrown. */
export function post(path, request, accept, signal) {
  return ask(path, {
    method: "POST",
    headers: { "Content-Type": "application/json", Accept: accept },
    body: JSON.stringify(request),
    signal,
  });
}

export async function getJson(path) {
  return (await ask(path, { headers: { Accept: "application/json" } })).json();
}

let running = null;

/** Solve a request. Aborts the solve before it; resolves to null where a newer one came. */
export async function solve(request) {
  running?.abort();
  const mine = new AbortController();
  running = mine;
  try {
    const response = await post("/v1/flow-split", request, "application/json", mine.signal);
    const answer = await response.json();
    return running === mine ? answer : null;
  } catch (error) {
    if (error.name === "AbortError" || running !== mine) return null;
    throw error;
  }
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
export function stemOf(request) {
  const name = typeof request.name === "string" ? request.name : "";
  return name.toLowerCase().replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-+|-+$/g, "").slice(0, 60)
    || "array";
}

export function downloadRequest(request) {
  const text = JSON.stringify(request, null, 2) + "\n";
  save(new Blob([text], { type: "application/json" }), `${stemOf(request)}.json`);
}

export async function downloadTable(request) {
  const response = await post("/v1/flow-split", request, "text/csv");
  save(await response.blob(), `${stemOf(request)}-loops.csv`);
}

/** Fetch the design report; throws the service's problem where it does not offer one. */
export async function downloadReport(request) {
  const response = await post("/v1/design-report", request, "application/pdf");
  save(await response.blob(), `${stemOf(request)}-report.pdf`);
}
