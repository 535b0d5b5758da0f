"""What the pages of a day are measured by: how large targets are, and how pale words. JavaScript, for the page."""

TARGETS = """() => {
  const inline = (one) => one.tagName === "A" && getComputedStyle(one).display === "inline";
  const words = (one) => (one.innerText || one.name || one.id).trim().slice(0, 40);
  return [...document.querySelectorAll("a[href], button, select, textarea, input:not([type=hidden]), summary")]
    .filter((one) => one.checkVisibility({ visibilityProperty: true, contentVisibilityAuto: true }))
    .filter((one) => !one.closest(".skip, .visually-hidden"))
    .map((one) => [one, (one.closest("label") || one).getBoundingClientRect()])
    .filter(([one, box]) => box.width > 1 && !inline(one))
    .filter(([, box]) => box.height < 43.5 || box.width < 43.5 || box.left < 0 || box.right > innerWidth)
    .map(([one, box]) => `${words(one)}: ${box.width} by ${box.height}`);
}"""
"""Whatever can be tapped and is smaller than 44 pixels each way, or not on the screen (WCAG 2.2, success criterion
2.5.5; half a pixel is left to rounding). Links inside sentences are no targets of their own: exception "Inline" of
2.5.5 and 2.5.8."""

IN_SENTENCES = """() => [...document.querySelectorAll("main a[href]:not(svg a)")]
  .filter((one) => one.checkVisibility() && getComputedStyle(one).display === "inline")
  .filter((one) => one.parentElement.innerText.trim() === one.innerText.trim())
  .map((one) => one.innerText)"""
"""Links that are inline and stand alone all the same: no exception holds for them."""

PALE = """() => {
  const canvas = Object.assign(document.createElement("canvas"), { width: 1, height: 1 });
  const one = canvas.getContext("2d", { willReadFrequently: true });
  const rgba = (color) => {
    one.clearRect(0, 0, 1, 1);
    one.fillStyle = color;
    one.fillRect(0, 0, 1, 1);
    return [...one.getImageData(0, 0, 1, 1).data];
  };
  const linear = (value) => (value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4);
  const light = ([r, g, b]) => 0.2126 * linear(r / 255) + 0.7152 * linear(g / 255) + 0.0722 * linear(b / 255);
  const below = (part) => {
    for (let at = part; at; at = at.parentElement) {
      const found = rgba(getComputedStyle(at).backgroundColor);
      if (found[3] > 250) return found;
    }
    throw new Error("nothing lies below");
  };
  const skipped = ".visually-hidden, .skip, :disabled";
  const found = new Map();
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) {
    const part = texts.currentNode.parentElement, words = texts.currentNode.textContent.trim();
    if (!words || !part.checkVisibility({ visibilityProperty: true }) || part.closest(skipped)) continue;
    const color = getComputedStyle(part).color;
    const [more, less] = [light(rgba(color)), light(below(part))].sort((x, y) => y - x);
    const ratio = (more + 0.05) / (less + 0.05);
    const which = `${part.tagName} ${part.className} ${color}`;
    if (ratio < LEAST) found.set(which, `${ratio.toFixed(2)} ${words.slice(0, 40)}`);
  }
  return [...found].map((each) => each.join(": "));
}"""
"""Words that are paler than LEAST to one: relative luminance and contrast ratio as WCAG 2.2 defines them. What
can't be pressed now is left out, as there (1.4.6, "Incidental")."""
