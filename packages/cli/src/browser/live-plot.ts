import { clock, type LiveFigure, number } from '@telltale/core';
import uPlot from 'uplot';

/** Heights of the panels in CSS pixels: what is judged, and what was going on. */
const HEIGHT = { first: 210, other: 92 } as const;
/** Dashes of the lines, as in the still drawings: no line is told by its colour alone. */
const DASHES = [[], [6, 3], [2, 2.5], [9, 3, 2, 3], [4, 2], [1.5, 4]];
/** A step of a zoom button, and of the arrow keys with and without Shift, as shares of what is shown. */
const STEP = { zoom: 0.5, shift: 0.5, key: 0.005, far: 0.05 } as const;

type Column = (number | null | undefined)[];

/** One figure made live: panels below each other that share their time, a cursor with a read-out, zoom by drag, button or key. */
export class LivePlot {
  private readonly plots: uPlot[] = [];
  private readonly read: HTMLOutputElement;
  private readonly columns: Column[][];
  private from: number;
  private to: number;
  private at = -1;
  private readonly box: HTMLElement;
  private joining = false;

  /** @param host the element that gets the plot; @param jump called with the figure that a clicked mark leads to */
  constructor(
    private readonly host: HTMLElement,
    private readonly figure: LiveFigure,
    private readonly name: string,
    private readonly jump: (mark: LiveFigure['marks'][number]) => void,
  ) {
    const { time, panels } = figure;
    this.from = time[0]!;
    this.to = time[time.length - 1]!;
    this.columns = panels.map(({ traces }) => traces.map(({ values, bridge }) => joined(values, time, bridge)));
    this.box = document.createElement('div');
    this.box.className = 'live';
    this.box.tabIndex = 0;
    this.box.setAttribute('role', 'group');
    this.box.setAttribute(
      'aria-label',
      `${name}. Live plot: arrow keys move the cursor, plus and minus zoom, 0 shows all.`,
    );
    this.box.addEventListener('keydown', (event) => this.key(event));
    this.read = document.createElement('output');
    this.read.className = 'read';
    this.box.append(this.tools(), this.read);
    host.append(this.box);
    this.draw();
    this.say();
  }

  /** Draws anew: the width or the colours of the page have changed. */
  draw(): void {
    for (const plot of this.plots.splice(0)) {
      plot.root.remove();
      plot.destroy();
    }
    const style = getComputedStyle(document.documentElement);
    const ink = (name: string): string => style.getPropertyValue(`--${name}`).trim();
    this.figure.panels.forEach((_, k) => {
      this.plots.push(this.panel(k, ink));
    });
    this.show(this.from, this.to);
  }

  /** Shows a stretch of time; what lies outside of the figure is cut off. */
  show(from: number, to: number): void {
    const { time } = this.figure;
    const [first, last] = [time[0]!, time[time.length - 1]!];
    const least = Math.max(1e-3, (last - first) / 5000);
    this.from = Math.max(first, Math.min(from, last - least));
    this.to = Math.min(last, Math.max(to, this.from + least));
    this.joining = true;
    for (const plot of this.plots) plot.setScale('x', { min: this.from, max: this.to });
    this.joining = false;
    this.box.dataset.from = this.from.toFixed(3);
    this.box.dataset.to = this.to.toFixed(3);
  }

  private tools(): HTMLElement {
    const bar = document.createElement('div');
    bar.className = 'tools';
    const { marks } = this.figure;
    const button = (text: string, label: string, act: () => void): void => {
      const each = document.createElement('button');
      each.type = 'button';
      each.textContent = text;
      each.setAttribute('aria-label', `${label}, ${this.name}`);
      each.addEventListener('click', act);
      bar.append(each);
    };
    button('+', 'Zoom in', () => this.zoom(STEP.zoom));
    button('\u2212', 'Zoom out', () => this.zoom(1 / STEP.zoom));
    button('\u2039', 'Earlier', () => this.move(-STEP.shift));
    button('\u203a', 'Later', () => this.move(STEP.shift));
    const [event] = marks;
    if (event !== undefined && !marks.some(({ figure }) => figure !== event.figure))
      button('Event', 'Show the event', () => this.showEvent(event.from, event.to));
    button('All', 'Show all', () => this.show(Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY));
    return bar;
  }

  /** An event with a little before and after it. */
  showEvent(from: number, to: number): void {
    const around = Math.max(1, 0.15 * (to - from));
    this.show(from - around, to + around);
  }

  private zoom(share: number): void {
    const { time } = this.figure;
    const inside = this.at >= 0 && time[this.at]! >= this.from && time[this.at]! <= this.to;
    const middle = inside ? time[this.at]! : (this.from + this.to) / 2;
    this.show(middle - share * (middle - this.from), middle + share * (this.to - middle));
  }

  private move(share: number): void {
    const { time } = this.figure;
    const by = share * (this.to - this.from);
    const room = by < 0 ? time[0]! - this.from : time[time.length - 1]! - this.to;
    const step = by < 0 ? Math.max(by, room) : Math.min(by, room);
    this.show(this.from + step, this.to + step);
  }

  private key(event: KeyboardEvent): void {
    if (event.target !== this.box || event.ctrlKey || event.metaKey || event.altKey) return;
    const step = (event.shiftKey ? STEP.far : STEP.key) * (this.to - this.from);
    const acts: Readonly<Record<string, () => void>> = {
      ArrowRight: () => this.go(step),
      ArrowLeft: () => this.go(-step),
      '+': () => this.zoom(STEP.zoom),
      '-': () => this.zoom(1 / STEP.zoom),
      '0': () => this.show(Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY),
    };
    const act = acts[event.key];
    if (act === undefined) return;
    event.preventDefault();
    this.read.setAttribute('aria-live', 'polite');
    act();
  }

  /** Moves the cursor by seconds, at least to the next point. */
  private go(seconds: number): void {
    const { time } = this.figure;
    let next = this.at < 0 ? nearest(time, (this.from + this.to) / 2) : nearest(time, time[this.at]! + seconds);
    if (next === this.at) next = Math.max(0, Math.min(time.length - 1, next + Math.sign(seconds)));
    if (time[next]! < this.from || time[next]! > this.to) this.move(Math.sign(seconds) * STEP.shift);
    for (const plot of this.plots) plot.setCursor({ left: plot.valToPos(time[next]!, 'x'), top: 10 }, false);
    this.point(next);
  }

  private point(index: number): void {
    this.at = index;
    this.say();
  }

  /** Time in the recording, and each value with its unit. */
  private say(): void {
    const { time, panels, step } = this.figure;
    this.read.replaceChildren();
    if (this.at < 0) {
      this.read.textContent = 'Point at the plot to read values; drag to zoom.';
      return;
    }
    const t = time[this.at]!;
    const when = document.createElement('b');
    when.textContent = `${clock(t, true)}${step > 0 ? ` (\u00b1${number(step / 2, 2)} s)` : ''}`;
    this.read.append(when);
    panels.forEach(({ traces, sign }) => {
      for (const { name, values, bridge, states } of traces) {
        const value = lastSample(values, time, this.at, bridge);
        const unit = sign === '' ? '' : sign === '\u00b0' ? sign : ` ${sign}`;
        this.read.append(
          ` \u00b7 ${name} ${value === undefined ? 'no sample' : (states?.[String(value)] ?? `${number(value)}${unit}`)}`,
        );
      }
    });
  }

  private panel(k: number, ink: (name: string) => string): uPlot {
    const { panels, time, marks } = this.figure;
    const { traces, sign, range, limits } = panels[k]!;
    const last = k === panels.length - 1;
    const states = traces[0]?.states;
    const axis = {
      stroke: ink('quiet'),
      grid: { stroke: ink('grid'), width: 1 },
      ticks: { stroke: ink('grid'), width: 1 },
    };
    const font = '12px system-ui, sans-serif';
    const shown =
      this.box.closest('[data-whole]') === null
        ? marks
        : marks.filter(({ from, to }) => to - from <= 0.2 * (time[time.length - 1]! - time[0]!));
    const options: uPlot.Options = {
      width: Math.max(240, this.host.clientWidth - 18),
      height: (k === 0 ? HEIGHT.first : HEIGHT.other) + (last ? 26 : 6),
      legend: { show: false },
      padding: [18, 10, 0, 0],
      scales: { x: { time: false }, y: { range: () => [range[0], range[1]] } },
      cursor: {
        sync: { key: this.host.id },
        drag: { x: true, y: false, setScale: true },
        points: { size: 6 },
        y: false,
      },
      axes: [
        {
          ...axis,
          font,
          size: last ? 26 : 4,
          values: (_, splits) => (last ? splits.map((t) => clock(t, !Number.isInteger(t))) : splits.map(() => '')),
          space: 90,
          incrs: INCREMENTS,
        },
        {
          ...axis,
          font,
          size: 54,
          space: k === 0 ? 34 : 28,
          values: (_, splits) => splits.map((value) => states?.[String(value)] ?? number(value)),
          ...(states === undefined ? {} : { splits: () => occurring(traces[0]!.values) }),
        },
      ],
      series: [
        {},
        ...traces.map((trace, n): uPlot.Series => {
          const dash = DASHES[n % DASHES.length]!;
          const steps = trace.steps ? uPlot.paths.stepped?.({ align: 1 }) : undefined;
          return {
            label: trace.name,
            stroke: ink(`t${n}`),
            width: 1.6,
            ...(dash.length === 0 ? {} : { dash }),
            ...(steps === undefined ? {} : { paths: steps }),
            points: { show: false },
          };
        }),
      ],
      hooks: {
        drawClear: [(plot) => shade(plot, shown, ink)],
        draw: [
          (plot) =>
            label(
              plot,
              traces.map(({ name }) => name),
              sign,
              limits,
              ink,
            ),
        ],
        setScale: [
          (plot, key) => {
            const { min, max } = plot.scales.x ?? {};
            if (key !== 'x' || this.joining || typeof min !== 'number' || typeof max !== 'number') return;
            if (min !== this.from || max !== this.to) this.show(min, max);
          },
        ],
        setCursor: [
          (plot) => {
            const { idx, left } = plot.cursor;
            if (typeof idx === 'number' && left !== undefined && left >= 0 && idx !== this.at) this.point(idx);
          },
        ],
      },
    };
    const data = [time as number[], ...this.columns[k]!] as uPlot.AlignedData;
    const plot = new uPlot(options, data, this.box);
    plot.over.addEventListener('click', () => {
      const t = plot.posToVal(plot.cursor.left ?? -1, 'x');
      const mark = shown.find(
        ({ from, to, figure }) => figure !== undefined && figure !== this.host.id && from <= t && t <= to,
      );
      if (mark !== undefined) this.jump(mark);
    });
    return plot;
  }
}

/** Steps of the time axis in seconds, as a clock has them. */
const INCREMENTS = [
  0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14_400, 36_000,
];

/** `undefined` lets the line go on, `null` breaks it: nobody knows what was between samples further apart than the trace bridges. */
function joined(values: readonly (number | null)[], time: readonly number[], bridge: number): Column {
  const column: Column = [...values];
  let before = -1;
  for (let i = 0; i < column.length; i++) {
    if (column[i] === null) continue;
    if (before >= 0 && time[i]! - time[before]! <= bridge) column.fill(undefined, before + 1, i);
    before = i;
  }
  return column;
}

/** Each value that occurs, ascending. */
function occurring(values: readonly (number | null)[]): number[] {
  return [...new Set(values)].filter((value) => value !== null).sort((a, b) => a - b);
}

/** The value that holds at a point: its own, or the last one before it that is not too old. */
function lastSample(
  values: readonly (number | null)[],
  time: readonly number[],
  at: number,
  bridge: number,
): number | undefined {
  for (let i = at; i >= 0 && time[at]! - time[i]! <= bridge; i--) {
    const value = values[i];
    if (value !== null && value !== undefined) return value;
  }
  return undefined;
}

function nearest(time: readonly number[], t: number): number {
  let low = 0;
  let high = time.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (time[middle]! <= t) low = middle;
    else high = middle;
  }
  return t - time[low]! <= time[high]! - t ? low : high;
}

/** The events below the lines. */
function shade(plot: uPlot, marks: LiveFigure['marks'], ink: (name: string) => string): void {
  const { ctx, bbox } = plot;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  ctx.globalAlpha = 0.14;
  for (const { from, to, severity } of marks) {
    const a = plot.valToPos(from, 'x', true);
    const b = plot.valToPos(to, 'x', true);
    ctx.fillStyle = ink(severity);
    ctx.fillRect(a, bbox.top, Math.max(2, b - a), bbox.height);
  }
  ctx.restore();
}

/** What the panel shows, and its limits by name, in the plot itself. */
function label(
  plot: uPlot,
  names: readonly string[],
  sign: string,
  limits: LiveFigure['panels'][number]['limits'],
  ink: (name: string) => string,
): void {
  const { ctx, bbox } = plot;
  const ratio = devicePixelRatio;
  ctx.save();
  ctx.font = `${12 * ratio}px system-ui, sans-serif`;
  ctx.fillStyle = ink('ink');
  ctx.textAlign = 'left';
  ctx.textBaseline = 'bottom';
  const unit = sign === '' ? '' : `, ${sign}`;
  ctx.fillText(`${names[0] ?? ''}${unit}${names.length > 1 ? ' \u2026' : ''}`, bbox.left, bbox.top - 2 * ratio);
  ctx.strokeStyle = ink('stop');
  ctx.fillStyle = ink('stop');
  ctx.lineWidth = 1.3 * ratio;
  ctx.setLineDash([7 * ratio, 3 * ratio, 1.5 * ratio, 3 * ratio]);
  ctx.textAlign = 'right';
  for (const { text, value } of limits) {
    const y = plot.valToPos(value, 'y', true);
    if (y < bbox.top || y > bbox.top + bbox.height) continue;
    ctx.beginPath();
    ctx.moveTo(bbox.left, y);
    ctx.lineTo(bbox.left + bbox.width, y);
    ctx.stroke();
    ctx.fillText(text, bbox.left + bbox.width - 4 * ratio, y - 2 * ratio);
  }
  ctx.restore();
}
