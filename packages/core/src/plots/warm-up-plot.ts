import { spoken } from '../channels/spoken.js';
import { type Drive, isRefusal } from '../derived/recipe.js';
import { WARM_UPS, type WarmUp } from '../derived/warm-up.js';
import type { Figure } from './figure.js';
import { channelSource } from './source.js';
import { bridged, gridOf, thinned } from './thinning.js';

/** How the fluids of one drive warmed up. */
export interface WarmUpPlot {
  readonly input: number;
  readonly figure: Figure;
  readonly fluids: readonly {
    readonly channel: string;
    /** Seconds of recording time, degC at both ends by the fit. */
    readonly from: number;
    readonly to: number;
    readonly first: number;
    readonly last: number;
    /** Time constant (s), null where the recording cannot tell it from no exchange at all. */
    readonly tau: number | null;
  }[];
}

/** An exchange that is no more than so many standard uncertainties from none is not told as a time. */
const TOLD = 3;

/** Undefined when no fluid started cold. */
export function warmUpOf(drive: Drive, most: number): WarmUpPlot | undefined {
  const all = drive.derive(WARM_UPS);
  if (isRefusal(all)) return undefined;
  const fits = [all.coolant, all.oil, all.transmission].filter((fit): fit is WarmUp => !isRefusal(fit));
  if (fits.length === 0) return undefined;
  const from = Math.min(...fits.map((fit) => fit.from));
  const to = Math.max(...fits.map((fit) => fit.to));
  const grid = gridOf(drive.time, from, to, most);
  const traces = fits.flatMap((fit) => {
    const source = channelSource(drive, drive.channel(fit.channel)!);
    if (source === undefined) return [];
    const model = Array.from(grid.time, (t) => {
      const value = t < fit.from || t > fit.to ? Number.NaN : fit.at(t - fit.from);
      return Number.isNaN(value) ? null : value;
    });
    const { id, name, drawn, bridge, values } = source;
    return [
      { id, name, drawn, bridge: bridged(bridge, grid), values: thinned(values, grid) },
      { id: `${id}Fitted`, name: `${spoken(id)}, fitted`, drawn, bridge: bridged(2 * bridge, grid), values: model },
    ];
  });
  return {
    input: drive.input,
    figure: {
      id: `warm-up-${drive.input + 1}`,
      title: 'Warm-up',
      input: drive.input,
      time: Array.from(grid.time),
      step: grid.step,
      panels: [{ unit: 'degC', traces, limits: [] }],
      marks: [],
    },
    fluids: fits.map(({ channel, from: begin, to: end, first, last, tau, rate, rateU }) => ({
      channel,
      from: begin,
      to: end,
      first,
      last,
      tau: Number.isFinite(tau) && rate > TOLD * rateU ? tau : null,
    })),
  };
}
