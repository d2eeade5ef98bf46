// How the letters of a page look: their colour, size and weight, and what lies behind them, each look once.
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
  const looks = new Set();
  for (const element of document.body.querySelectorAll("*")) {
    if (!lettered(element) || !element.checkVisibility()) continue;
    const style = getComputedStyle(element);
    looks.add([style.color, style.fontSize, style.fontWeight, style.textShadow, behind(element)].join(" | "));
  }
  return [...looks];
}
