// Shows of the contents what has the words that are typed. Without this script all is shown.
const folded = (text) =>
  text
    .normalize("NFKD")
    .replace(/\p{M}/gu, "")
    .replace(/[’']/g, "")
    .toLowerCase();

const box = document.getElementById("search");
const words = document.getElementById("words");
const found = document.getElementById("found");
const tunes = [...document.querySelectorAll(".tunes li")].map((element) => ({
  element,
  text: ` ${folded(element.textContent).replace(/\s+/g, " ")}`,
}));

// One or two letters (a key, say) only where a word begins with them.
const has = (text, word) => text.includes(word.length > 2 ? word : ` ${word}`);

const show = () => {
  const wanted = folded(words.value).split(/\s+/).filter(Boolean);
  let count = 0;
  for (const tune of tunes) {
    const fits = wanted.every((word) => has(tune.text, word));
    tune.element.hidden = !fits;
    count += fits;
  }
  for (const chapter of document.querySelectorAll(".chapter")) {
    chapter.hidden = chapter.querySelectorAll(".tunes li:not([hidden])").length === 0;
  }
  found.textContent = wanted.length ? `${count} of ${tunes.length}` : "";
};

box.hidden = false;
words.addEventListener("input", show);
show();
