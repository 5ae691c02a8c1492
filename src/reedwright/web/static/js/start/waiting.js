// When the work is done, the page shows what came of it.
document.addEventListener("job-over", () => location.reload());
