import { uncertaintyOf } from '../../derived/exceeds.js';
import { PEDAL_RELATIVE } from '../../derived/pedal-relative.js';
import { PEDAL_RELEASED } from '../../derived/pedal-released.js';
import { READ_OUT } from '../../derived/read-out.js';
import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { freshRate, holds, sampleSpacing } from '../../derived/refresh.js';
import { maskedSeconds, ROW_SECONDS } from '../../derived/row-seconds.js';
import { SPEED } from '../../derived/speed.js';
import { TRIP } from '../../derived/trip.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { DRIVEN, RATE } from './over-rev-judgement.js';
import { readOverRev } from './over-rev-reading.js';
import { judgeOverRev, NOTHING_STORED, type OverRevRecord, storedOverRev } from './over-rev-stored.js';

const CP = 'common practice, no source';
/** A crank sensor counts teeth against a quartz: half-width as a share of the reading. Common practice, no source. */
const TOLERANCE = 0.001;

const limits: readonly LimitDefinition[] = [
  {
    name: 'watch',
    value: 4,
    unit: '%',
    comparison: '>',
    source: CP,
    about: 'engine speed over the rev limit with the pedal pressed; up to here it is overshoot of the limiter',
  },
  {
    name: 'repair',
    value: 3,
    unit: '%',
    comparison: '>',
    source: CP,
    about: 'engine speed over the rev limit with the pedal released (<= 5 %), two fresh samples',
  },
  {
    name: 'stop',
    value: 10,
    unit: '%',
    comparison: '>',
    source: CP,
    about: 'engine speed over the rev limit with the pedal released (<= 5 %), two fresh samples',
  },
  {
    name: 'far',
    value: 10,
    unit: '%',
    comparison: '>',
    source: CP,
    about: 'engine speed over the rev limit, whatever the pedal did: no limiter overshoots as far; repair',
  },
  {
    name: 'stored-range',
    value: 4,
    unit: '1',
    comparison: '>=',
    source: CP,
    about: 'range of a stored over-rev counter that has counted: lower ranges begin at the limiter',
  },
];

export const overRev = defineRule({
  id: 'usage.over-rev',
  system: 'usage',
  question: 'Was the engine over-revved?',
  why: 'Fuel and ignition are cut at the limiter, but no limiter holds an engine that the wheels push after a wrong downshift: valves meet pistons.',
  weight: 2,
  needs: {
    channels: ['engineSpeed'],
    optional: ['pedalPosition', 'pedalPositionRelative', 'engineSpeedMaximum', 'overRevCount'],
    derived: [PEDAL_RELATIVE, PEDAL_RELEASED, SPEED, TRIP, ROW_SECONDS, READ_OUT],
    conditions: [`driving for >= ${DRIVEN} s`, 'engine.revLimit in the vehicle profile'],
  },
  readOuts: true,
  limits,
  method:
    'Engine speed is compared with the rev limit of the vehicle profile, and with nothing else. Beyond it with the pedal pressed the engine hangs at its limiter: counted as limiter contact, a watch where it goes further than a limiter overshoots, and repair where it goes further than any does, as a downshift under power or a limit moved up. Without a pedal recorded the same holds. ' +
    'Beyond it on the move with the pedal released for longer than an engine needs to fall back by itself, the wheels push it: a mechanical over-rev, judged by its own limits. Two fresh samples in a row must surely be beyond a limit; a single one is a spike in a fast log and leaves the question open in a slow one. ' +
    'A highest engine speed that the control unit has stored carries no pedal: it counts beyond the overshoot of a limiter only, and one step less than one that was seen; a counter of a high range is a watch.',
  decoys: [
    'spikes: one sample, or shorter than the mass of a car could let go of the engine again',
    'standstill or cold soft limit: only the limit of the profile counts, and wheels that stand push nothing',
    'shift blips: they stay within the overshoot, or are over before the time that an over-rev lasts',
    'limiter contact and the fall after a late lift: the pedal was pressed just before',
  ],
  cautions: ['After a mechanical over-rev the engine is not run hard before a leak-down test.'],
  proves: `A drive with engine speed at ${RATE} Hz or more and the pedal recorded, and engine.revLimit in the vehicle profile; for the past, the stored over-rev counters of the engine control unit.`,
  observe(view, context): OverRevRecord | Refusal {
    const { revLimit } = view.vehicle.engine;
    const stored = storedOverRev(view.optional('engineSpeedMaximum'), view.family('overRevCount'), revLimit);
    if (!isRefusal(view.derive(READ_OUT)))
      return stored === undefined
        ? refuse('the read-out holds neither a highest engine speed nor over-rev counters', {
            channels: ['engineSpeed'],
          })
        : { stored };
    if (revLimit === undefined && stored !== undefined) return { stored };
    if (revLimit === undefined)
      return refuse('no limit to compare with: the vehicle profile names no engine.revLimit', {
        conditions: ['engine.revLimit in the vehicle profile'],
      });
    const speed = view.channel('engineSpeed');
    const pedal = view.derive(PEDAL_RELATIVE);
    const released = view.derive(PEDAL_RELEASED);
    const road = view.derive(SPEED);
    const trip = view.derive(TRIP);
    const own = freshRate(speed).hz;
    const hz = own > 0 ? own : 1 / sampleSpacing(speed.values, view.time);
    const reading = readOverRev({
      speed,
      time: view.time,
      hz,
      pedal: isRefusal(pedal) ? undefined : pedal,
      released: isRefusal(released) ? undefined : released,
      road: isRefusal(road) ? undefined : road,
      revLimit,
      uncertainty: uncertaintyOf(speed, { tolerance: TOLERANCE * revLimit }),
      limits: context.limits(),
    });
    const seconds = view.derive(ROW_SECONDS);
    const running = new Uint8Array(view.time.length);
    for (let i = 0; i < running.length; i++) if (speed.values[i]! >= 300) running[i] = 1;
    const foot = view.family('pedalPosition')[0] ?? view.family('pedalPositionRelative')[0];
    const seen = {
      reading,
      revLimit,
      driven: isRefusal(trip) ? (isRefusal(seconds) ? 0 : maskedSeconds(running, seconds).total) : trip.movingTime,
      fastEnough: holds(speed, FRESH_WITHIN, 2) === true,
      pedal: !isRefusal(pedal) || (!isRefusal(released) && released.certain),
      cut: { times: speed.quality.saturated.length, top: highest(speed.values) },
      channels: foot === undefined ? [speed] : [speed, foot],
    };
    return { seen, stored: stored ?? NOTHING_STORED };
  },
  judge: judgeOverRev,
});

/** NaN is no sample, and of none. */
function highest(values: Float64Array): number {
  let top = Number.NaN;
  for (let i = 0; i < values.length; i++) if (!(values[i]! <= top) && !Number.isNaN(values[i]!)) top = values[i]!;
  return top;
}

/** Two fresh samples within this many seconds (see RATE). */
const FRESH_WITHIN = 2 / RATE;
