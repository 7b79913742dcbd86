import { compressorOutlet, coolerEffectiveness } from '../physics/compressor.js';
import type { Channel } from '../recording/recording.js';
import { AMBIENT, type Ambient } from './ambient.js';
import { clippedRows } from './clipped.js';
import { firstAtOrAfter, type Segment } from './intervals.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { PULLS } from './segments.js';

/** What one pull showed of the charge cooler. Temperatures in °C. */
export interface CooledPull {
  readonly from: number;
  readonly to: number;
  /** Effectiveness at the end of a pull of at least {@link LONG}, 0..1; NaN else. */
  readonly effectiveness: number;
  /** Standard uncertainty: compressor efficiency, pressures, temperatures. */
  readonly u: number;
  /** K by which the charge air rose over its value at the start of the pull. */
  readonly rise: number;
  /** Charge air at its hottest, and computed behind the compressor. */
  readonly charge: number;
  readonly compressed: number;
  /** Pressure ratio of the compressor over the last seconds. */
  readonly ratio: number;
}

export interface ChargeCooling {
  readonly pulls: readonly CooledPull[];
  readonly channel: Channel;
  readonly pressure: Channel;
  /** The place is not told; it was taken as behind the cooler, because it rises with boost. */
  readonly inferred: boolean;
  readonly ambientSource: string;
}

/** Seconds of boost before the end of a pull tells anything. */
export const LONG = 6;
/** Isentropic efficiency of a turbocharger's compressor at load and its half-width; common practice, no source. */
export const EFFICIENCY = { value: 0.7, half: 0.05 } as const;
/** A sensor that rises by less than this (K) at such a ratio sits before the compressor. */
export const BEFORE_COMPRESSOR = { rise: 2, ratio: 1.8 } as const;
/** K that a sensor of unknown place has to rise at least to be taken as behind the cooler. */
const PLACED = 5;
/** Pressure lost in cooler and intake, kPa, and its standard uncertainty: compressors work against both. */
const LOSS = { cooler: 4, u: 4, intake: 0.98 } as const;
const LEAST_RATIO = 1.3;
/** Seconds at the end that are averaged, and those after it in which a slow sensor may still show the peak. */
const END = 2.5;
const LATE = 2.5;
/** Standard uncertainty of a charge temperature at the end of a pull, K: tolerance and lag. */
const CHARGE_U = 1.5;
const INLET_U = 4;

export const CHARGE_COOLING = recipe<ChargeCooling>({
  id: 'chargeCooling',
  about:
    'Effectiveness (T2 - Tcharge) / (T2 - Tambient) at the end of pulls of 6 s and more; T2 behind the compressor from its pressure ratio at an isentropic efficiency of 0.70 ± 0.05 (Heywood 1988 section 6.8); and the rise of the charge temperature per pull.',
  compute(drive) {
    const pulls = drive.derive(PULLS);
    if (isRefusal(pulls)) return refuse(`the charge cooling cannot be told: ${pulls.reason}`, pulls.missing);
    const ambient = drive.derive(AMBIENT);
    if (isRefusal(ambient)) return ambient;
    const pressure = pressureOf(drive);
    if (pressure === undefined)
      return refuse('the charge cooling cannot be told, because manifoldPressure is absent', {
        channels: ['manifoldPressure'],
      });
    const told = temperatureOf(drive);
    if (told === undefined)
      return refuse('the charge cooling cannot be told, because chargeAirTemperature is absent', {
        channels: ['chargeAirTemperature'],
      });
    const found = pulls.flatMap((pull) => pullOf(drive, pull, told.channel, pressure, ambient) ?? []);
    if (told.inferred) {
      const boosted = found.filter(({ ratio }) => ratio > BEFORE_COMPRESSOR.ratio);
      if (boosted.length === 0 || boosted.some(({ rise }) => rise < PLACED))
        return refuse(
          `it is not known where ${told.channel.id} is measured${boosted.some(({ rise }) => rise < BEFORE_COMPRESSOR.rise) ? '; it does not rise with boost, so before the compressor' : ''}`,
          {
            channels: ['chargeAirTemperature'],
            conditions: [`place of ${told.channel.id} in its header or in a map file`],
          },
        );
    }
    return {
      pulls: found.filter(
        ({ rise, ratio }) => !(ratio > BEFORE_COMPRESSOR.ratio && rise < BEFORE_COMPRESSOR.rise && told.inferred),
      ),
      channel: told.channel,
      pressure,
      inferred: told.inferred,
      ambientSource: ambient.temperatureSource,
    };
  },
});

/** Nearest to the compressor first. */
function pressureOf(drive: Drive): Channel | undefined {
  for (const base of ['compressorOutletPressure', 'boostPressure', 'manifoldPressure']) {
    const found = drive.family(base).find(({ quality }) => quality.samples > 0 && !quality.constant);
    if (found !== undefined) return found;
  }
  return undefined;
}

/** Behind the cooler: by name, by the place in a header, else an intake temperature that has to show it by itself. */
function temperatureOf(drive: Drive): { readonly channel: Channel; readonly inferred: boolean } | undefined {
  const live = (base: string) => drive.family(base).filter(({ quality }) => quality.samples > 0 && !quality.constant);
  const named = live('chargeAirTemperature').find(({ place }) => place !== 'before-compressor');
  if (named !== undefined) return { channel: named, inferred: false };
  const intake = live('intakeAirTemperature').filter(({ place }) => place !== 'before-compressor');
  const placed = intake.find(({ place }) => place !== undefined);
  if (placed !== undefined) return { channel: placed, inferred: false };
  return intake[0] === undefined ? undefined : { channel: intake[0], inferred: true };
}

function pullOf(
  drive: Drive,
  pull: Segment,
  channel: Channel,
  pressure: Channel,
  ambient: Ambient,
): CooledPull | undefined {
  const samples = samplesOf(drive);
  const { time } = drive;
  const boost = samples.held(pressure.id)!;
  const charge = samples.held(channel.id)!;
  const clipped = clippedRows(pressure, boost, time);
  const end = firstAtOrAfter(time, pull.to - END);
  let sum = 0;
  let count = 0;
  let since = Number.NaN;
  for (let i = pull.start; i <= pull.end; i++) {
    if (Number.isNaN(since) && boost[i]! >= LEAST_RATIO * ambient.pressure) since = time[i]!;
    if (i < end || Number.isNaN(boost[i]!)) continue;
    if (clipped[i] === 1) return undefined;
    sum += boost[i]!;
    count++;
  }
  if (count === 0 || Number.isNaN(since)) return undefined;
  const outlet = sum / count + (pressure.id.startsWith('compressorOutlet') ? 0 : LOSS.cooler);
  const inlet = LOSS.intake * ambient.pressure;
  const ratio = outlet / inlet;
  const last = firstAtOrAfter(time, pull.to + LATE);
  let hottest = Number.NEGATIVE_INFINITY;
  let before = pull.to;
  for (let i = firstAtOrAfter(time, pull.to - 1); i < last; i++) {
    // Over a gap nobody knows what happened.
    if (time[i]! - before > samples.maxStep) break;
    before = time[i]!;
    if (charge[i]! > hottest) hottest = charge[i]!;
  }
  const start = charge[pull.start]!;
  if (!Number.isFinite(hottest) || Number.isNaN(start)) return undefined;
  const drawn = inletOf(drive, channel, pull, ambient);
  const at = (efficiency: number, r = ratio, t1 = drawn.value) => compressorOutlet(t1, r, efficiency);
  const compressed = at(EFFICIENCY.value);
  // Heat that a standing car has soaked up goes out with the first air: a charge that cools during a pull tells of soak.
  const soaked = hottest < start - 1;
  const long = pull.to - since >= LONG && ratio > 1.4 && !soaked;
  const value = long ? coolerEffectiveness(compressed, hottest, ambient.temperature) : Number.NaN;
  const differ = (other: number): number => other - value;
  const parts = [
    differ(coolerEffectiveness(at(EFFICIENCY.value - EFFICIENCY.half), hottest, ambient.temperature)) / Math.sqrt(3),
    differ(coolerEffectiveness(at(EFFICIENCY.value, (outlet + LOSS.u) / inlet), hottest, ambient.temperature)),
    differ(coolerEffectiveness(at(EFFICIENCY.value, ratio, drawn.value + drawn.u), hottest, ambient.temperature)),
    differ(
      coolerEffectiveness(
        compressed,
        hottest + Math.hypot(CHARGE_U, channel.quality.quantum / Math.sqrt(12)),
        ambient.temperature,
      ),
    ),
    differ(coolerEffectiveness(compressed, hottest, ambient.temperature + ambient.temperatureU)),
  ];
  return {
    from: pull.from,
    to: pull.to,
    effectiveness: value,
    u: long ? Math.hypot(...parts) : Number.NaN,
    rise: hottest - start,
    charge: hottest,
    compressed,
    ratio,
  };
}

/** Air that the compressor draws: its own sensor, an intake sensor beside the charge sensor, else ambient air a little warmed. */
function inletOf(
  drive: Drive,
  charge: Channel,
  pull: Segment,
  ambient: Ambient,
): { readonly value: number; readonly u: number } {
  const samples = samplesOf(drive);
  for (const base of ['compressorInletTemperature', 'intakeAirTemperature']) {
    const found = drive
      .family(base)
      .find(
        ({ id, quality, place }) =>
          id !== charge.id && quality.samples > 0 && place !== 'manifold' && place !== 'before-throttle',
      );
    const value = found === undefined ? Number.NaN : samples.held(found.id)![pull.end]!;
    const rose = found === undefined ? 0 : value - samples.held(found.id)![pull.start]!;
    // One that is hot or rises with boost sits behind the compressor after all.
    if (value > ambient.temperature - 8 && value < ambient.temperature + 30 && rose < 5) return { value, u: 2 };
  }
  return { value: ambient.temperature + 5, u: INLET_U };
}
