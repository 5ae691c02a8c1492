// A search that is done leads to what it found.
document.addEventListener("job-over", (event) => {
  const done = event.detail;
  if (done.standing !== "done") return;
  const link = document.createElement("a");
  link.href = `/bench/tuning?job=${done.name}`;
  link.textContent = "What was found";
  event.target.append(document.createTextNode(" "), link);
});
