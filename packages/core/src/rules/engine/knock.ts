import { TRACTION_BLIND } from '../../derived/knock-decoys.js';
import { KNOCK_CELL, mergeMaps } from '../../derived/knock-map.js';
import { KNOCK_LOAD, KNOCK_SIGNAL, KNOCK_SPEED } from '../../derived/knock-signal.js';
import { isRefusal } from '../../derived/recipe.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { adviceOf, causesOf, patternOf } from './knock-advice.js';
import { type KnockObservation, observeKnock } from './knock-observation.js';
import { gather, weighKnock } from './knock-verdict.js';
import {
  COUNTS,
  counted,
  eventOf,
  foundSummary,
  notesOf,
  openReason,
  placesNote,
  SLACK,
  sum,
} from './knock-wording.js';

const CP = 'common practice, no source';
const limits: readonly LimitDefinition[] = [
  { name: 'event', value: 2, unit: 'deg', comparison: '>=', source: CP, about: 'retard that counts as an event' },
  {
    name: 'watch',
    value: 3,
    unit: 'deg',
    comparison: '>=',
    source: CP,
    about: 'retard in the same speed cell in 2 pulls',
  },
  {
    name: 'cylinderSpread',
    value: 3,
    unit: 'deg',
    comparison: '>=',
    source: CP,
    about: 'one cylinder beyond the mean of the others',
  },
  { name: 'repair', value: 5, unit: 'deg', comparison: '>=', source: CP, about: 'retard in 2 of at least 3 pulls' },
  { name: 'stop', value: 8, unit: 'deg', comparison: '>=', source: CP, about: 'retard in 2 pulls' },
  {
    name: 'allCylinders',
    value: 6,
    unit: 'deg',
    comparison: '>=',
    source: CP,
    about: 'retard of every cylinder at once: stop',
  },
];

export const knock = defineRule({
  id: 'engine.knock',
  system: 'engine',
  question: 'Does it knock, where, and which cylinder?',
  why: 'Knock under load breaks ring lands, bearings and head gaskets. The knock control hides it from the driver by taking ignition back: only the retard tells.',
  weight: 3,
  needs: {
    channels: ['knockRetard', 'engineSpeed'],
    optional: ['intakeAirTemperature', 'chargeAirTemperature'],
    derived: [KNOCK_SIGNAL],
    conditions: ['full-load pull >= 2 s from low to high engine speed, at least 2, better 3'],
  },
  limits,
  method:
    `An event is a step of retard that stands for 0.1 s at a load fraction of ${KNOCK_LOAD} or more and ${KNOCK_SPEED} rpm or more, above the steady learned offset, counted per cylinder; while it ramps back it stays one event. ` +
    `Limits are held against what several pulls agree on, in cells of ${KNOCK_CELL.speed} rpm; two pulls at the repair limit without a third are a watch. Where no load is recorded, full-pedal pulls stand for high load. A retard of the whole engine counts where no cylinder shows the same event.`,
  decoys: [
    'tip-in: a step within a second after a fast pedal rise counts only if it does not fade or rises again, or if one cylinder steps 6 deg beyond all others',
    'torque reduction in shifts: steps in a shift do not count, nor what they leave behind',
    'traction control: flagged, or seen from wheels that run apart; what all cylinders share is then no knock, what one has beyond them is',
    'decay tail: a retard that ramps back is one event',
    'learned offset: what is there at low load as well is taken off and reported',
    'mechanical noise: steps at low load are no events; many of them put noise first among the causes',
    'hot charge and poor fuel: named as causes; hot charge lowers the confidence',
  ],
  cautions: [
    'Full-load pulls only on a closed course or a dynamometer; the passenger stops the run at once when the retard reaches 8 deg.',
    'No ignition advance is ever suggested.',
  ],
  proves:
    'Three full-load pulls in one gear from about 2000 rpm to near the limiter, each at least 2 s, on a closed course or a dynamometer, with knock retard of each cylinder and engine load recorded at 5 Hz or more.',
  observe(view, context) {
    const signal = view.derive(KNOCK_SIGNAL);
    if (isRefusal(signal)) return signal;
    const air = view.optional('chargeAirTemperature') ?? view.optional('intakeAirTemperature');
    const step = context.limits().event!.value;
    return observeKnock(signal, view.time, step, view.vehicle.engine.cylinders, air?.values);
  },
  judge,
});

/**
 * All cylinders alike may be a torque intervention: the more so where nothing tells of traction control, the less so the
 * more pulls show it, as wheels do not spin at the same place of each. Common practice, no source.
 */
function interventionDoubt(unseen: boolean, struck: number): number {
  return ((unseen ? 0.4 : 0.2) * 2) / (1 + Math.max(1, struck));
}

function judge(observed: readonly Observed<KnockObservation>[], context: Context): Judgement {
  const all = observed.map((each) => each.observation);
  const named = context.limits();
  const seen = gather(all);
  const { grounds, closest, struck } = weighKnock(seen, named);
  const ground = grounds[0];
  const pulls = seen.pulls.length;
  const rate = Math.min(...all.map((o) => o.signal.rate));
  const maxRetard = seen.events.reduce((most, event) => Math.max(most, event.peak), 0);
  const offset = Math.max(...all.map((o) => o.offset));
  const cylinders = [...new Set(seen.events.flatMap((e) => (e.cylinder === undefined ? [] : [e.cylinder])))].sort(
    (a, b) => a - b,
  );
  const pattern = patternOf(
    ground ? ground.events : seen.events,
    named.cylinderSpread!.value,
    sum(all, 'lowLoad'),
    offset,
    all.some((o) => o.signal.blind.includes(TRACTION_BLIND)),
  );
  const map = mergeMaps(all.map((o) => o.map));
  const places = placesNote(map);
  const common = {
    measures: {
      events: { value: seen.events.length },
      maxRetard: { value: maxRetard, unit: 'deg' },
      cylinders: { value: cylinders },
      pulls: { value: pulls },
      learnedOffset: { value: offset, unit: 'deg' },
      rate: { value: rate, unit: 'Hz' },
      ...(rate < SLACK * COUNTS ? { eventsAtLeast: { value: seen.events.length } } : {}),
    },
    events: observed.flatMap((each) => each.observation.events.map((event) => eventOf(event, each.input))),
    limits: Object.values(named),
    notes: [...(places === undefined ? [] : [places]), ...notesOf(all, rate, offset, pattern.hot)],
    details: { knockMap: { cell: { speed: KNOCK_CELL.speed, load: KNOCK_CELL.load }, cells: map } },
  };
  const blind = new Set(all.flatMap((o) => o.signal.blind)).size;
  const doubts = [
    1 - 0.3 ** Math.max(1, pulls),
    0.6 + 0.4 * Math.min(1, rate / COUNTS),
    all.some((o) => !o.signal.rateCertain) ? 0.97 : 1,
    0.97 ** blind,
    all.some((o) => o.signal.loadBasis === 'pedal') ? 0.9 : 1,
  ];
  const channels = all.flatMap((o) => o.certainties.map((certainty) => ({ certainty })));
  if (ground) {
    const margin = ground.value - ground.limit.value;
    return {
      ...common,
      outcome: 'finding',
      severity: ground.severity,
      confidence: confidenceOf({
        margin,
        uncertainty: ground.uncertainty,
        samples: sum(all, 'freshInEvents'),
        channels,
        // Found is found: how many pulls there were counts only through their agreement.
        doubts: [
          ...doubts.slice(1),
          pattern.hot ? 0.85 : 1,
          pattern.noisy ? 0.8 : 1,
          pattern.alike ? 1 - interventionDoubt(pattern.unseen, struck) : 1,
        ],
      }),
      summary: foundSummary(ground, pulls, maxRetard, cylinders),
      causes: causesOf(pattern),
      advice: adviceOf(pattern, ground.severity),
    };
  }
  const open = openReason(pulls, rate, struck, maxRetard, named.watch!.value);
  if (open) return { ...common, outcome: 'unproven', ...open };
  const near = closest.exceedance === 'near' ? `, near the limit (${closest.value.toFixed(1)}°)` : '';
  const most =
    seen.events.length === 0
      ? 'no knock event'
      : `${counted(seen.events.length, 'knock event')} of at most ${maxRetard.toFixed(1)}°`;
  return {
    ...common,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: closest.limit.value - closest.value,
      uncertainty: seen.uncertainty,
      samples: sum(all, 'fresh'),
      channels,
      doubts: struck > 0 ? [...doubts, 0.8] : doubts,
    }),
    summary: `${pulls} pulls at high load show ${most}; watch starts at ${named.watch!.value}° where two pulls agree${near}.`,
  };
}
