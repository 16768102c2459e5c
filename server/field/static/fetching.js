// Fetches what the page holds, as text: it is compared with what is there, and parsed when it is used.

const FETCH_MS = 60000;
const SIGNED_OUT = 401;

/** An answer of the server that is not what was requested. */
export class Refused extends Error {
  /** @param {number} status @param {string} message */
  constructor(status, message) { super(message); this.status = status; }

  get signedOut() { return this.status === SIGNED_OUT; }
}

/** The text of a JSON answer. A sign-in page of a hotel answers as well, but not with JSON. @param {string} address @returns {Promise<string>} */
export async function fetchText(address) {
  const answer = await fetch(address, { signal: AbortSignal.timeout(FETCH_MS) }), text = await answer.text();
  const isJson = (answer.headers.get("Content-Type") || "").includes("json");
  if (answer.ok && !answer.redirected && isJson) return text;
  throw new Refused(answer.status, isJson && JSON.parse(text).detail || "The server answered " + answer.status);
}

/** @param {string} address @returns {Promise<any>} */
export const fetchJson = async (address) => JSON.parse(await fetchText(address));
