// Keeping what a page has as it goes: the whole of it at each change, one save after
// another. A save without an answer may have been kept all the same: it is sent again as
// it was, which the server answers as the same save.
import { post, Refused } from "./send.js";

// keeper saves what `now` gives. It tells `state` in a word, `heard` each answer, and
// `refused` a clear no, after which nothing more is sent.
export function keeper({ url, token, draft, revision, now, state, heard, refused }) {
  let dirty = false;
  let pending = null;
  let sending = false;
  let over = false;

  async function save() {
    if (!pending && dirty) {
      pending = { draft, revision, steps: now() };
      dirty = false;
    }
    state(pending ? "Saving…" : "Saved");
    if (sending || over || !pending) return;
    sending = true;
    try {
      const answer = await post(url, token, pending);
      pending = null;
      revision = answer.revision;
      heard(answer, !dirty);
    } catch (error) {
      over = error instanceof Refused;
      sending = false;
      state(over ? "Not saved" : "Not saved yet, trying again");
      if (over) refused(error);
      else setTimeout(save, 2000);
      return;
    }
    sending = false;
    save();
  }

  return {
    change() { dirty = true; save(); },
    // whether all is kept
    kept: () => !dirty && !pending && !over,
  };
}
