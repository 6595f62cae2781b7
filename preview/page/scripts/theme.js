// Light or dark: as the device says, or as the reader chose before, where the browser remembers it.

function makeTheme(onChange) {
  const choice = byId("theme");
  const name = "review-page-theme";

  function remembered() {
    try {
      return localStorage.getItem(name) || "";
    } catch {
      return "";
    }
  }

  function apply(theme) {
    if (theme) document.documentElement.dataset.theme = theme;
    else delete document.documentElement.dataset.theme;
    onChange();
  }

  choice.value = ["light", "dark"].includes(remembered()) ? remembered() : "";
  apply(choice.value);
  choice.addEventListener("change", () => {
    try {
      localStorage.setItem(name, choice.value);
    } catch {
      // Without storage the choice lasts as long as the page is open.
    }
    apply(choice.value);
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", onChange);
}
