// The one script of a report: bundled with what it needs, and put into the page by `telltale assess --html`.
import type { PlotData } from '@telltale/core';
import { makeLive } from './live-plots.js';

const data = document.getElementById('plot-data')?.textContent;
if (data !== null && data !== undefined) makeLive(document.body, JSON.parse(data) as PlotData);
