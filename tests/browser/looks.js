// How the letters of a page look: their colour, size and weight, and what lies behind them, each look once. After them
// how links look within text: "link", the link and the block it stands in, and whether that says more than its links do.
// `window.whatLooksLike` has the elements of each.
() => {
  const behind = (element) => {
    const layers = [];
    let opaque = false;
    for (let one = element; one; one = one.parentElement) {
      const style = getComputedStyle(one);
      if (style.opacity !== "1") layers.push(style.opacity);
      if (opaque) continue;
      if (style.backgroundImage !== "none") layers.push(style.backgroundImage);
      if (style.backgroundColor !== "rgba(0, 0, 0, 0)") layers.push(style.backgroundColor);
      opaque = style.backgroundColor.startsWith("rgb(");
    }
    return layers.join();
  };
  const lettered = (element) => element.matches("input, select, textarea, button")
    || [...element.childNodes].some((node) => node.nodeType === Node.TEXT_NODE && node.data.trim());
  const letters = (element) => {
    const style = getComputedStyle(element);
    return [style.color, style.fontSize, style.fontWeight, style.textShadow, behind(element)];
  };
  const marks = (element) => ["", "::before", "::after"].flatMap((part) => {
    const style = getComputedStyle(element, part || null);
    return [style.display, style.content, style.fontStyle, style.fontFamily, style.textDecoration, style.borderTop,
      style.borderBottom, style.outline, style.backgroundImage, style.backgroundColor];
  });
  const linkInText = (link) => {
    let block = link.parentElement;
    while (block.parentElement && getComputedStyle(block).display.startsWith("inline")) block = block.parentElement;
    const length = (text) => text.replace(/\s+/g, " ").trim().length;
    const linked = [...block.querySelectorAll("a")].map((one) => one.textContent).join("");
    const more = length(block.textContent) > 2 * length(linked);
    const divided = block.querySelector("br, hr") !== null;
    return ["link", more, divided, ...letters(link), ...marks(link), ...letters(block), ...marks(block)];
  };
  const looks = window.whatLooksLike = new Map();
  const note = (look, element) => looks.set(look, [...(looks.get(look) || []), element]);
  for (const element of document.body.querySelectorAll("*")) {
    if (!lettered(element) || !element.checkVisibility()) continue;
    note(letters(element).join(" | "), element);
  }
  for (const link of document.body.querySelectorAll("a[href]")) {
    if (link.checkVisibility() && link.textContent.trim()) note(linkInText(link).join(" | "), link);
  }
  return [...looks.keys()];
}
