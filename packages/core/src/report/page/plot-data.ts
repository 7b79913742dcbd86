import type { Figure } from '../../plots/figure.js';
import type { Plots } from '../../plots/plots.js';
import { number, unitSign } from '../format.js';
import { rangeOf } from './figure-svg.js';

/** What the script of a page draws: the figures by id, each number as short as an eye can tell. */
export interface PlotData {
  readonly [id: string]: LiveFigure;
}

export interface LiveFigure {
  readonly time: readonly number[];
  readonly step: number;
  readonly panels: readonly {
    readonly sign: string;
    readonly range: readonly [number, number];
    readonly traces: readonly {
      readonly name: string;
      readonly steps: boolean;
      /** Words of a state by its value. */
      readonly states?: Readonly<Record<string, string>>;
      readonly bridge: number;
      readonly values: readonly (number | null)[];
    }[];
    readonly limits: readonly { readonly text: string; readonly value: number }[];
  }[];
  readonly marks: readonly {
    readonly from: number;
    readonly to: number;
    readonly severity: string;
    readonly rule: string;
    readonly figure?: string;
  }[];
}

/** Significant digits of a value; times are to the millisecond. */
const DIGITS = 5;

export function plotData(plots: Plots): PlotData {
  const figures = [
    ...plots.evidence.flatMap((each) => each.figures),
    ...plots.drives.map(({ figure }) => figure),
    ...plots.warmUps.map(({ figure }) => figure),
  ];
  return Object.fromEntries(figures.map((figure) => [figure.id, liveFigure(figure)]));
}

function liveFigure({ time, step, panels, marks }: Figure): LiveFigure {
  return {
    time: time.map((t) => Math.round(t * 1000) / 1000),
    step: short(step),
    panels: panels.map((panel) => ({
      sign: unitSign(panel.unit),
      range: rangeOf(panel),
      traces: panel.traces.map(({ name, drawn, bridge, values, states }) => ({
        name,
        steps: drawn === 'steps',
        bridge: short(bridge),
        values: values.map((value) => (value === null ? null : short(value))),
        ...(states === undefined ? {} : { states }),
      })),
      limits: panel.limits.map(({ name, value }) => ({ text: `${name} ${number(value)}`, value })),
    })),
    marks: marks.map(({ from, to, severity, rule, figure }) => ({
      from: short(from, 7),
      to: short(to, 7),
      severity,
      rule,
      ...(figure === undefined ? {} : { figure }),
    })),
  };
}

function short(value: number, digits = DIGITS): number {
  return Number(value.toPrecision(digits));
}
