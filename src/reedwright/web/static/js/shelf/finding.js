// Arrow keys lead from the field for words through what is found; Enter opens it, as links do.
const words = document.getElementById("words");
const found = document.getElementById("found");

const titles = () => [...found.querySelectorAll(".tunes .title")];

words.addEventListener("keydown", (event) => {
  if (event.key !== "ArrowDown") return;
  const first = titles()[0];
  if (!first) return;
  event.preventDefault();
  first.focus();
});

found.addEventListener("keydown", (event) => {
  const all = titles();
  const at = all.indexOf(document.activeElement);
  if (at < 0) return;
  const goal = { ArrowDown: at + 1, ArrowUp: at - 1, Home: 0, End: all.length - 1 }[event.key];
  if (goal === undefined) return;
  event.preventDefault();
  if (goal < 0) words.focus();
  else if (goal < all.length) all[goal].focus();
  else found.querySelector(".further button")?.focus();
});
