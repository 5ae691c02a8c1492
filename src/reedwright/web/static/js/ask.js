// Asking the server. Errors of ours come as Trouble with a sentence to show.

export class Trouble extends Error {
  constructor(message, kind, status, data) {
    super(message);
    this.kind = kind;
    this.status = status;
    this.data = data;
  }
}

// `ask("/tunes/3/text", {json: {...}})` posts JSON; `{form: FormData}` posts a form; else gets.
// The answer: what the JSON says, or the Response itself where `raw` is wanted.
export async function ask(address, { method, json, form, raw, signal } = {}) {
  const headers = { accept: "application/json" };
  let body;
  if (json !== undefined) {
    headers["content-type"] = "application/json";
    body = JSON.stringify(json);
  } else if (form !== undefined) {
    body = form;
  }
  let answer;
  try {
    answer = await fetch(address, {
      method: method ?? (body === undefined ? "GET" : "POST"), headers, body, signal,
    });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    document.dispatchEvent(new CustomEvent("reedwright:lost"));
    throw new Trouble("Reedwright does not answer.", "lost", 0);
  }
  if (!answer.ok) {
    let said = {};
    try { said = await answer.json(); } catch { /* no words with it */ }
    throw new Trouble(said.message ?? `That did not work (${answer.status}).`, said.kind ?? "refused", answer.status, said);
  }
  return raw ? answer : answer.json();
}
