// What a program can see of a page, each fault as a sentence. What is hidden does not count.
const all = (query, from = document) => Array.from(from.querySelectorAll(query));
const shown = each => each.checkVisibility({ visibilityProperty: true, opacityProperty: true });
const seen = (query, from) => all(query, from).filter(shown);
const one = (query, from) => seen(query, from)[0];
const style = each => getComputedStyle(each);
const up = each => each ? [each, ...up(each.parentElement)] : [];
const kept = make => (known => each => known.get(each)
  || known.set(each, make(each)).get(each))(new Map());

function audit(wide, least, whole) {
  const faults = [];
  const fault = (what, each) => faults.push(what + ": " + each.tagName.toLowerCase() + " "
    + (each.textContent.trim().replace(/\s+/g, " ") || each.outerHTML).slice(0, 60));
  markup(fault);
  contrast(fault);
  room(fault, wide, least, whole);
  return faults;
}

function markup(fault) {
  const ids = all("[id]").map(each => each.id);
  all("[id]").forEach((each, at) => ids.indexOf(each.id) === at || fault("an id twice", each));
  if (!document.documentElement.lang) fault("no language", document.documentElement);
  seen("th").filter(each => !each.scope).forEach(each => fault("a head without scope", each));
  all("a[href],button,input,select,textarea,summary,[tabindex]").forEach(each => {
    const box = each.getBoundingClientRect();
    if (each.tabIndex < 0 || !each.checkVisibility()) return;
    if (!shown(each) || box.width < 1 || box.height < 1 || box.right < 0
      || each.closest("[aria-hidden=true]")) fault("focus where nothing is seen", each);
  });
}

// --- contrast: WCAG 2.2, 1.4.3, of every text against each colour that is painted below it ---

const rgba = text => {
  const found = (text.match(/[\d.]+/g) || [0, 0, 0, 0]).map(Number);
  return found.length < 4 ? [...found, 1] : found;
};
const over = (top, under) => [0, 1, 2].map(i => top[i] * top[3] + under[i] * (1 - top[3]));
const light = colour => [0.2126, 0.7152, 0.0722].reduce((sum, share, i) => {
  const value = colour[i] / 255;
  return sum + share * (value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4);
}, 0);
const faint = each => up(each).reduce((share, one) => share * Number(style(one).opacity), 1);
const shapes = svg => all("path,rect,circle,ellipse,polygon", svg).filter(each => shown(each)
  && !each.closest("defs,clipPath") && style(each).fill.startsWith("rgb")).map(each => {
  const fill = rgba(style(each).fill);
  fill[3] *= Number(style(each).fillOpacity) * faint(each);
  return [each, fill, each.getScreenCTM().inverse(), each.getBoundingClientRect()];
});

function below(text, painted, ground) {
  const svg = text.ownerSVGElement, box = text.getBBox(), to = text.getScreenCTM();
  return [0.05, 0.25, 0.5, 0.75, 0.95].map(share => {
    const at = new DOMPoint(box.x + share * box.width, box.y + 0.55 * box.height)
      .matrixTransform(to);
    return painted(svg).reduce((under, [each, fill, back, edge]) =>
      at.x < edge.left || at.x > edge.right || at.y < edge.top || at.y > edge.bottom
      || !(each.compareDocumentPosition(text) & Node.DOCUMENT_POSITION_FOLLOWING)
      || !each.isPointInFill(at.matrixTransform(back)) ? under : over(fill, under), ground(svg));
  });
}

function contrast(fault) {
  const painted = kept(shapes), ground = kept(each => each
    ? over(rgba(style(each).backgroundColor), ground(each.parentElement)) : [255, 255, 255]);
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const each = walk.currentNode.parentElement, drawn = each.closest("text");
    if (!walk.currentNode.data.trim() || !shown(each) || each.closest("option,title")) continue;
    const ink = rgba(drawn ? style(each).fill : style(each).color);
    ink[3] *= faint(each);
    const ratios = (drawn ? below(drawn, painted, ground) : [ground(each)]).map(under => {
      const [dark, bright] = [light(over(ink, under)), light(under)].sort((a, b) => a - b);
      return (bright + 0.05) / (dark + 0.05);
    });
    if (Math.min(...ratios) < 4.5) fault("contrast " + Math.min(...ratios).toFixed(2), each);
  }
}

// --- room: what lies beyond an edge or is cut by one (whole: by a frame too), letters too small ---

function room(fault, wide, least, whole) {
  if (document.documentElement.scrollWidth > wide + 1) fault("the page scrolls", document.body);
  const clips = each => style(each).overflowX !== "visible";
  const held = kept(each => each && each !== document.body
    && (clips(each) || held(each.parentElement)));
  seen("body *").forEach(each => {
    const box = each.getBoundingClientRect(), svg = each.ownerSVGElement;
    if (whole && each.matches("div") && clips(each) && each.scrollWidth > each.clientWidth + 1)
      fault("cut by " + (each.scrollWidth - each.clientWidth) + " px", each);
    if (!svg && !held(each.parentElement) && box.width && (box.right > wide + 1 || box.left < -1))
      fault("beyond the edge by " + Math.round(box.right - wide) + " px", each);
    if (each.tagName !== "text" || !each.textContent.trim()) return;
    const edge = svg.getBoundingClientRect(), to = each.getScreenCTM();
    const size = parseFloat(style(each).fontSize) * Math.hypot(to.a, to.b);
    if (size < least) fault("letters of " + size.toFixed(1) + " px", each);
    if (box.left < edge.left - 1 || box.right > edge.right + 1 || box.top < edge.top - 1
      || box.bottom > edge.bottom + 1) fault("cut by the edge of its drawing", each);
  });
}

function spot(mark) { // where it can be pointed at
  const box = mark.getBoundingClientRect();
  for (let i = 1; i < 12; i += 1) for (let j = 1; j < 12; j += 1) {
    const at = [box.left + box.width * i / 12, box.top + box.height * j / 12];
    if (document.elementFromPoint(...at)?.closest(".mk") === mark) return at;
  }
  return null;
}
