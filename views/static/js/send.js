// Sending to our own server: one place for the token, the errors and the
// moment at which somebody has to sign in again.

// key names one act. randomUUID is missing on plain http, so it is made here.
export function key() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
}

// Refused is an answer of the server that a repeat would not change.
export class Refused extends Error {
  constructor(status, answer) {
    super(answer.error || "The server did not accept this.");
    this.status = status;
    this.way = answer.way;
  }
}

// post sends JSON and gives the answer; it throws Refused for a clear no and
// any other error when trying again makes sense.
export async function post(url, token, body) {
  const response = await fetch(url, {
    method: "POST",
    headers: { "Content-Type": "application/json", Accept: "application/json", "X-Form-Token": token },
    body: JSON.stringify(body),
    redirect: "error",
  });
  const answer = await response.json(); // a page of HTML, as a network that asks for a sign-in gives, is no answer
  if (response.ok) return answer;
  if (response.status >= 500 || response.status === 429) throw new Error(answer.error);
  throw new Refused(response.status, answer);
}

// say puts a sentence into a status region so that it is read aloud even when
// it is the same as before.
export function say(region, text) {
  region.textContent = "";
  requestAnimationFrame(() => { region.textContent = text; });
}

export const mss = (ms) => {
  const s = Math.max(0, Math.floor(ms / 1000));
  return `${Math.floor(s / 60)}:${String(s % 60).padStart(2, "0")}`;
};
