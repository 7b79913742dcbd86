import { convert, converter, findUnit, type Unit } from '../units/index.js';
import type { ChannelFacts } from './catalogue.js';
import { isMarker } from './cleaning.js';
import { USUAL_BASE } from './mixture.js';

/** Samples looked at when a unit is judged. */
const SAMPLE = 2000;

/** Units that a quantity is logged in (common practice, no source). */
const LOGGED: Readonly<Record<string, readonly string[]>> = {
  temperature: ['degC', 'degF', 'K'],
  speed: ['km/h', 'mph', 'm/s'],
  pressure: ['kPa', 'bar', 'hPa', 'psi', 'inHg', 'MPa', 'Pa'],
  ratio: ['%', 'fraction', 'raw8'],
  mixture: ['lambda', 'AFR'],
  'mass-flow': ['g/s', 'kg/h', 'lb/min'],
  torque: ['N.m', 'lb-ft'],
  voltage: ['V', 'mV'],
};

/**
 * Where most samples of a running car lie, narrower than what the sensor can read (common practice, no source). Only
 * used to contradict a stated unit, never to remove a sample.
 */
const USUAL: Readonly<Record<string, readonly [number, number]>> = {
  coolantTemperature: [-30, 130],
  engineOilTemperature: [-30, 165],
  transmissionOilTemperature: [-30, 165],
  intakeAirTemperature: [-30, 110],
  chargeAirTemperature: [-30, 110],
  ambientTemperature: [-30, 55],
  vehicleSpeed: [0, 330],
  barometricPressure: [55, 110],
  manifoldPressure: [5, 400],
  systemVoltage: [6, 18],
  lambda: [0.5, 2.5],
  lambdaTarget: [0.5, 2.5],
};

/** True when the stated unit can be converted to the channel's. */
function fits(unit: Unit, facts: ChannelFacts): boolean {
  try {
    converter(unit, facts.unit, { afrBase: USUAL_BASE });
    return true;
  } catch {
    return false;
  }
}

/** The unit that a text means for this channel, or undefined when it is unknown or of another quantity. */
export function unitFor(text: string, facts: ChannelFacts): Unit | undefined {
  const first = findUnit(text, facts.quantity) ?? findUnit(text);
  return first !== undefined && fits(first, facts) ? first : undefined;
}

type StatedUnit =
  | { readonly verdict: 'fits' }
  | { readonly verdict: 'partly'; readonly share: number }
  | { readonly verdict: 'contradicted'; readonly share: number; readonly alternative: string }
  | { readonly verdict: 'impossible'; readonly share: number; readonly alternatives: readonly string[] };

/**
 * Whether the values can be in the unit that the header states. 'contradicted' when most samples are impossible in it
 * and nearly all are usual in exactly one other unit of the quantity; 'impossible' when none or several others fit.
 * Markers and NaN are not counted; fewer than 20 samples are never judged.
 */
export function judgeStatedUnit(stated: Unit, facts: ChannelFacts, raw: Float64Array): StatedUnit {
  const sample = thin(raw);
  if (sample.length < 20) return { verdict: 'fits' };
  const own = plausibleShare(sample, stated, facts);
  if (own >= 0.9) return { verdict: 'fits' };
  if (own >= 0.5) return { verdict: 'partly', share: own };
  const alternatives = (LOGGED[stated.quantity] ?? LOGGED[facts.quantity] ?? []).filter((id) => {
    const unit = findUnit(id);
    return unit !== undefined && id !== stated.id && fits(unit, facts) && plausibleShare(sample, unit, facts) >= 0.95;
  });
  const [only] = alternatives;
  if (alternatives.length === 1 && only !== undefined)
    return { verdict: 'contradicted', share: own, alternative: only };
  return { verdict: 'impossible', share: own, alternatives };
}

/** Share of the sample that is plausible when read in a unit. Gauge pressure is granted the atmosphere. */
function plausibleShare(sample: readonly number[], unit: Unit, facts: ChannelFacts): number {
  const to = converter(unit, facts.unit, { afrBase: USUAL_BASE });
  const usual = USUAL[facts.base];
  const slack = facts.gauge === false && unit.gauge !== false ? convert(101.325, 'kPa', facts.unit) : 0;
  const low = Math.max(facts.physics.min, usual?.[0] ?? Number.NEGATIVE_INFINITY) - slack;
  const high = Math.min(facts.physics.max, usual?.[1] ?? Number.POSITIVE_INFINITY);
  let inside = 0;
  let judged = 0;
  for (const x of sample) {
    const y = to(x);
    if (facts.physics.sentinels.some((s) => Math.abs(s - y) < 1e-6 * Math.max(1, Math.abs(s)))) continue;
    judged++;
    if (y >= low && y <= high) inside++;
  }
  return judged < 20 ? 1 : inside / judged;
}

/** Up to {@link SAMPLE} samples, evenly taken; markers that no unit makes plausible are left out. */
function thin(raw: Float64Array): number[] {
  const stride = Math.max(1, Math.floor(raw.length / SAMPLE));
  const sample: number[] = [];
  for (let i = 0; i < raw.length; i += stride) {
    const x = raw[i]!;
    if (Number.isNaN(x) || (isMarker(x) && Math.abs(x) > 9000)) continue;
    sample.push(x);
  }
  return sample;
}
