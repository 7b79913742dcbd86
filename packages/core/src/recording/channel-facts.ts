import type { ChannelDefinition } from '../channels/definition.js';
import { convert } from '../units/index.js';
import type { ChannelFacts } from './catalogue.js';
import { ABSURD } from './cleaning.js';

/** Channels of the intake path whose reference (absolute or gauge) shows in their values. */
const INTAKE: readonly string[] = [
  'manifoldPressure',
  'manifoldPressureTarget',
  'boostPressure',
  'boostPressureTarget',
];

/** Channels that cannot be 0 for a whole recording: a constant 0 means "not supported" (common practice, no source). */
const NEVER_ZERO: readonly string[] = [
  'systemVoltage',
  'barometricPressure',
  'manifoldPressure',
  'boostPressure',
  'lambda',
];

const KINDS: Readonly<Record<ChannelDefinition['kind'], ChannelFacts['kind']>> = {
  measured: 'number',
  commanded: 'number',
  stored: 'number',
  counter: 'counter',
  time: 'time',
  position: 'position',
  state: 'state',
  flag: 'flag',
};

/** A logger in other units (mph for km/h) steps this much coarser than the standard's scaling. */
const COARSER = 1.7;
/** Without a published scaling, no gauge is coarser than this share of its range (common practice, no source). */
const COARSE_SHARE = 0.01;

/** The facts of a definition as the reading of columns needs them. `id` carries the position. */
export function factsOf(definition: ChannelDefinition, id: string): ChannelFacts {
  const { unit, quantity, range, rate, resolution, sentinels, gauge } = definition;
  const values = sentinels.filter((s) => Math.abs(s.value) < ABSURD).map((s) => convert(s.value, s.unit, unit));
  return {
    id,
    base: definition.id,
    unit,
    quantity,
    // Run time is a time axis for ingest, and a channel here: it tells a fresh start from a warm one.
    kind: definition.id === 'engineRunTime' ? 'counter' : KINDS[definition.kind],
    physics: { min: range[0], max: range[1], rate: rate ?? Number.POSITIVE_INFINITY, sentinels: values },
    coarsest: resolution === undefined ? COARSE_SHARE * (range[1] - range[0]) : COARSER * resolution,
    constants: NEVER_ZERO.includes(definition.id) ? [0] : [],
    gauge: quantity === 'pressure' ? gauge : undefined,
    intake: INTAKE.includes(definition.id),
  };
}
