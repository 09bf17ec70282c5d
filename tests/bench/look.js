// Names of controls, size of targets, contrast, width: what of WCAG 2.2 AA a script can tell; gives what is wrong.
() => {
  const wrong = [];
  const shown = (one) => one.checkVisibility({checkOpacity: true, checkVisibilityCSS: true}) && one.getClientRects().length;
  const named = (one) => (one.getAttribute('aria-label') || one.title || one.innerText || one.labels?.[0]?.innerText || one.alt
    || one.querySelector?.('[aria-label],img[alt]') || '').toString().trim();
  for (const one of document.querySelectorAll('button, a, input, select, textarea, summary, [tabindex="0"]')) {
    if (!shown(one) || one.closest('.unseen')) continue;
    if (!named(one)) wrong.push('no name: ' + one.outerHTML.slice(0, 120));
    const {width, height} = one.getBoundingClientRect();
    // WCAG 2.2, 2.5.8: 24 px, save links within text
    if ((width < 24 || height < 24) && !one.matches('.skip, .unseen, p a, .title a, h2 a, summary, input[type=checkbox], .plainly'))
      wrong.push(`small ${width}x${height}: ` + one.outerHTML.slice(0, 120));
  }
  for (const one of document.querySelectorAll('img')) if (!one.hasAttribute('alt')) wrong.push('no alt: ' + one.src);
  for (const one of document.querySelectorAll('svg[role=img]')) if (!one.getAttribute('aria-label')) wrong.push('picture without a name');
  const ids = [...document.querySelectorAll('[id]')].map((one) => one.id);
  if (new Set(ids).size !== ids.length) wrong.push('an id stands twice');
  if (!document.documentElement.lang || !document.title) wrong.push('no language or title');
  const rgb = (text) => (text.match(/[\d.]+/g) || []).map(Number);
  const light = ([r, g, b]) => [r, g, b].map((v) => v / 255).map((v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const ground = (one) => { for (; one; one = one.parentElement) { const c = rgb(getComputedStyle(one).backgroundColor);
    if (c.length === 3 || c[3] === 1) return c; } return [255, 255, 255]; };
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const one = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || !shown(one) || one.closest('svg, .unseen, :disabled, noscript, .skip')) continue;
    const style = getComputedStyle(one);
    const [a, b] = [light(rgb(style.color)), light(ground(one))].sort((x, y) => y - x);
    const ratio = (a + 0.05) / (b + 0.05);
    const big = parseFloat(style.fontSize) >= 24 || (parseFloat(style.fontSize) >= 18.66 && style.fontWeight >= 700);
    // WCAG 2.2, 1.4.3
    if (ratio < (big ? 3 : 4.5)) wrong.push(`contrast ${ratio.toFixed(2)}: ` + walk.currentNode.data.trim().slice(0, 40));
  }
  if (document.documentElement.scrollWidth > innerWidth + 1) wrong.push('wider than the screen: ' + document.documentElement.scrollWidth);
  return [...new Set(wrong)];
}
