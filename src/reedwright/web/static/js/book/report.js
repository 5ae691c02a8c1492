// What is in a finished book, from its job's facts.
import { element } from "../dom.js";

export function report(job) {
  const facts = job.facts;
  const parts = [];
  if (job.kind === "book") {
    const many = facts.chapters.reduce((sum, chapter) => sum + chapter.tunes.length, 0);
    parts.push(element("p", { textContent: `${count(many, "tune")} on ${count(facts.pages, "page")}; ${facts.anew} engraved now, ${many - facts.anew} kept from before.` }));
    parts.push(...listed("Harps needed", facts.harps.map((each) => `${each.harp}: ${count(each.tunes.length, "tune")}`)));
    const tunes = facts.chapters.flatMap((chapter) => chapter.tunes);
    parts.push(...listed("Notes that the harp has not", tunes.filter((tune) => tune.missing.length).map((tune) => `${tune.title}: ${[...new Set(tune.missing)].join(", ")} on the ${tune.harp}`)));
    parts.push(...listed("To know", tunes.flatMap((tune) => tune.notices.map((notice) => `${tune.title}: ${notice}`))));
  } else {
    parts.push(element("p", { textContent: `Web pages of ${count(facts.tunes, "tune")}, ${(facts.bytes / 1e6).toFixed(1)} MB. Open index.html in the folder; put the whole folder on your site.` }));
  }
  parts.push(...listed("Left out", facts.left_out.map((each) => `${each.title}: ${each.reason}`)));
  return parts;
}

function listed(heading, lines) {
  if (!lines.length) return [];
  return [element("h3", { textContent: heading }), element("ul", {}, ...lines.map((line) => element("li", { textContent: line })))];
}

const count = (many, what) => `${many} ${what}${many === 1 ? "" : "s"}`;
