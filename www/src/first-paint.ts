/**
 * Waits for the sheet: what keeps all cores busy, planner and drawing, begins after it is shown.
 */

/** When the page's first words stand on the screen; a page nobody looks at is not waited for. */
export function firstPaint(): Promise<void> {
  const NAME = "first-contentful-paint";
  if (performance.getEntriesByName(NAME).length > 0) return Promise.resolve();
  return new Promise((done) => {
    const watch = new PerformanceObserver((list) => {
      if (list.getEntriesByName(NAME).length > 0) done();
    });
    watch.observe({ type: "paint", buffered: true });
    setTimeout(done, 1000);
  });
}
