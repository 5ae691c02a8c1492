// Dark or light as the reader last chose, before anything is drawn; else as the system has it.
(() => {
  const root = document.documentElement;
  const kept = () => { try { return localStorage.getItem("theme"); } catch { return null; } };
  const system = matchMedia("(prefers-color-scheme: dark)");
  const dark = () => (kept() ?? (system.matches ? "dark" : "light")) === "dark";
  const show = () => {
    root.dataset.theme = dark() ? "dark" : "light";
    const button = document.getElementById("theme");
    if (button) button.setAttribute("aria-pressed", String(dark()));
  };
  show();
  system.addEventListener("change", show);
  document.addEventListener("DOMContentLoaded", () => {
    show();
    document.getElementById("theme")?.addEventListener("click", () => {
      try { localStorage.setItem("theme", dark() ? "light" : "dark"); } catch { /* not kept */ }
      show();
    });
  });
})();
