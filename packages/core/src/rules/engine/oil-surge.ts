import { ACCELERATION } from '../../derived/acceleration.js';
import { LATERAL } from '../../derived/lateral.js';
import { LOAD_FRACTION } from '../../derived/load-fraction.js';
import { OIL_PRESSURE } from '../../derived/oil-pressure.js';
import { SAMPLES } from '../../derived/samples.js';
import { ENGINE_STARTS } from '../../derived/starts.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf, rankOf, worst } from '../ladder.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, counted, figure } from '../wording.js';
import { CORNER_HZ, FROM, HARD, type Least, readSurge, type SurgeReading } from './oil-surge-reading.js';

const CP = 'common practice, no source';
/** Seconds of judged cornering that it takes to say the pressure holds. */
const ENOUGH = 3;
const CORNERS = `hot oil, cornering at >= ${HARD} g above ${FROM} rpm for >= ${ENOUGH} s in all, on a closed course only`;
const START = 'a start from engine off, ignition on for 3 s before';

const limits: readonly LimitDefinition[] = [
  {
    name: 'drop',
    value: 30,
    unit: '%',
    comparison: '>',
    source: CP,
    about: `below the car's own pressure at that engine speed and oil temperature, at >= ${HARD} g, for 0.2 s`,
  },
  {
    name: 'pressure',
    value: 2,
    unit: 'bar',
    comparison: '<',
    source: CP,
    about: `together with the drop, above ${FROM} rpm`,
  },
  { name: 'start-watch', value: 3, unit: 's', comparison: '>', source: CP, about: '300 rpm to oil pressure' },
  { name: 'start-repair', value: 6, unit: 's', comparison: '>', source: CP, about: 'the same' },
  { name: 'present', value: 0.5, unit: 'bar', comparison: '>=', source: CP, about: 'oil pressure that has come' },
];

export const oilSurge = defineRule({
  id: 'engine.oil-surge',
  system: 'engine',
  question: 'Does the oil pressure hold in corners, and come at once after a start?',
  why: 'A pick-up that sucks air in a long corner starves the bearings at high load; pressure that comes late wears them at every start.',
  weight: 2,
  needs: {
    channels: ['engineOilPressure', 'engineSpeed'],
    optional: [
      'engineOilTemperature',
      'coolantTemperature',
      'lateralAcceleration',
      'yawRate',
      'longitudinalAcceleration',
      'vehicleSpeed',
      'selector',
      'startStopActive',
    ],
    derived: [OIL_PRESSURE, SAMPLES, LATERAL, ACCELERATION, LOAD_FRACTION, ENGINE_STARTS],
    conditions: [CORNERS, `engineOilPressure at >= ${CORNER_HZ} Hz`, START],
  },
  limits,
  method: `With hot oil above ${FROM} rpm, in corners and brakings of ${HARD} g and more and the second after: pressure against the car's own straight ahead at light load (under load too, where the corner has been driven under load for a second), by its 10th percentile at the same engine speed (lowest of half a second around, highest straight ahead) and oil temperature, or at the next lower speed. Low pressure that only a much lower speed can be set against stays open. Both limits have to be passed for 0.2 s and three fresh samples. After a start: seconds from 300 rpm to the first pressure.`,
  decoys: [
    'switching of pump stages and regulated pumps: the comparison is with light load, where they make least, and 2 bar have to be missed as well',
    'engine speed that falls in the corner: the lowest speed of half a second around counts',
    'a loose connector: what happens as often straight ahead is not taken for the corners',
    'kerbs and spikes: the acceleration has to last 0.4 s, the drop three fresh samples',
    'restarts after an automatic stop: the galleries are still full; left out',
    'slow logs: below 10 Hz corners are not judged',
  ],
  cautions: [
    'Hard corners belong on a closed course, with a car that is in order for it; never on public roads.',
    'Once the pressure has fallen away in a corner: drive on gently to the pits, no further lap.',
  ],
  proves:
    'On a closed course some long corners to either side with hot oil above 3000 rpm, after a few minutes of light load straight ahead; oil pressure, engine speed, lateral acceleration (or yaw rate and speed) at 10 Hz, oil temperature; the recording begun with the ignition on before the start.',
  observe(view, context) {
    const { drop, pressure, present } = context.limits();
    return readSurge(view, { drop: drop!, pressure: pressure!, present: present! });
  },
  judge,
});

/** rpm around the middle of a cell. */
const SAME_SPEED = 250;

/** What it holds of what: an own pressure of a lower engine speed is told as such. */
function shareOf({ share, rpm, ownRpm }: Least): string {
  const from = rpm - ownRpm > 2 * SAME_SPEED ? ` of ${figure(ownRpm, 0)} rpm` : '';
  return `${figure(100 * share, 0)} % of its own pressure${from}`;
}

function judge(observed: readonly Observed<SurgeReading>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.map(({ observation }) => observation);
  const drops = observed.flatMap(({ input, observation }) =>
    observation.everywhere ? [] : observation.drops.map((each) => ({ input, ...each })),
  );
  const starts = observed.flatMap(({ input, observation }) =>
    observation.starts
      .map((each) => ({ input, ...each, level: levelOf(each.seconds, each.u, named, 'start') }))
      // One that was not seen to its end tells something only beyond a limit.
      .filter(({ came, level }) => came || level !== undefined),
  );
  const sum = (of: (o: SurgeReading) => number): number => all.reduce((total, o) => total + of(o), 0);
  const cornering = sum((o) => o.cornering);
  const deepest = drops.reduce<(typeof drops)[number] | undefined>(
    (a, b) => (a === undefined || b.drop > a.drop ? b : a),
    undefined,
  );
  const slowest = starts.reduce<(typeof starts)[number] | undefined>(
    (a, b) => (a === undefined || b.seconds > a.seconds ? b : a),
    undefined,
  );
  const least = all
    .map((o) => o.least)
    .filter(({ share }) => !Number.isNaN(share))
    .sort((a, b) => a.share - b.share)[0];
  const severity = worst([deepest === undefined ? undefined : 'stop', ...starts.map(({ level }) => level)]);
  const channels = all.flatMap((o) => o.channels);
  const doubts = [all.every((o) => o.loadKnown) ? 1 : 0.85];
  const notes = [
    ...(all.some((o) => o.everywhere)
      ? [
          'Drops of the oil pressure come as often straight ahead: look at sensor and wiring, and at `engine.oil-pressure`.',
        ]
      : []),
    ...(all.every((o) => o.loadKnown)
      ? []
      : ['Engine load not known: compared with all that was driven straight ahead.']),
  ];
  const base = {
    measures: {
      cornering: { value: cornering, unit: 's' },
      drops: { value: drops.length },
      ...(deepest === undefined ? {} : { drop: { value: deepest.drop, unit: '%' } }),
      ...(least === undefined ? {} : { lowest: { value: least.pressure, unit: 'bar' } }),
      ...(slowest === undefined ? {} : { buildUp: { value: slowest.seconds, unit: 's' } }),
    },
    limits: Object.values(named).filter(({ name }) =>
      name.startsWith('start') || name === 'present' ? starts.length > 0 : least !== undefined,
    ),
    notes,
  };
  const inCorners =
    least === undefined
      ? ''
      : `in corners and brakings it holds at least ${shareOf(least)} (${figure(least.pressure)} bar at ${figure(least.rpm, 0)} rpm, ${clockTime(least.at)})`;
  const unsure = all.flatMap((o) => o.unsure ?? []).sort((a, b) => a.pressure - b.pressure)[0];
  const atStart =
    slowest === undefined
      ? ''
      : `after the start at ${clockTime(slowest.from)} the oil pressure was there in ${figure(slowest.seconds)} s (limit ${figure(limitOf(named, 'watch', 'start').value)} s)`;
  if (severity !== undefined) {
    const events = [
      ...drops.map(({ input, from, to, pressure, rpm, g, drop }) => ({
        input,
        from,
        to,
        severity: 'stop' as const,
        peak: { value: pressure, unit: 'bar' },
        drop: { value: drop, unit: '%' },
        engineSpeed: { value: rpm, unit: 'rpm' },
        acceleration: { value: g * 9.80665, unit: 'm/s2' },
      })),
      ...starts.flatMap(({ input, from, seconds, level }) =>
        level === undefined
          ? []
          : [{ input, from, to: from + seconds, severity: level, peak: { value: seconds, unit: 's' } }],
      ),
    ];
    if (deepest !== undefined) {
      return {
        ...base,
        outcome: 'finding',
        severity,
        confidence: confidenceOf({
          margin: deepest.drop - named.drop!.value,
          uncertainty: deepest.dropU,
          samples: drops.reduce((total, { samples }) => total + samples, 0),
          channels,
          doubts,
        }),
        summary: `Oil pressure fell to ${figure(deepest.pressure)} bar at ${figure(deepest.rpm, 0)} rpm and ${figure(deepest.g)} g (${clockTime(deepest.from)}), ${figure(deepest.drop, 0)} % below the car's own at that speed (limits ${figure(named.drop!.value, 0)} % and ${figure(named.pressure!.value)} bar); ${counted(drops.length, 'time')} in ${figure(cornering, 0)} s of hard cornering.`,
        events,
        causes: [
          'oil level too low, or oil that has foamed (too much of it does that as well)',
          'sump without baffles for such corners: the oil leaves the pick-up',
          'pick-up loose, cracked or sucking air at its seal; strainer partly blocked',
          'oil held up in the cylinder head by high engine speed',
        ],
        advice: [
          'No further hard driving. Check the level as the maker says, and again after ten minutes of standing.',
          'Cut the filter open and look for bearing metal before it is driven hard again.',
          'Look at pick-up, its seal and the baffles; on a closed course repeat with the level at its upper mark.',
          'For regular use on a circuit: baffled sump, pressure accumulator or dry sump.',
        ],
      };
    }
    const led = starts
      .filter(({ level }) => rankOf(level) === rankOf(severity))
      .reduce((a, b) => (b.seconds > a.seconds ? b : a));
    const limit = limitOf(named, severity, 'start');
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin: led.seconds - limit.value,
        uncertainty: led.u,
        samples: 2 * starts.filter(({ level }) => level !== undefined).length,
        channels,
      }),
      summary: led.came
        ? `After the start at ${clockTime(led.from)} it took ${figure(led.seconds)} s until the oil pressure reached ${figure(named.present!.value)} bar (limit ${figure(limit.value)} s).`
        : `After the start at ${clockTime(led.from)} the oil pressure had not reached ${figure(named.present!.value)} bar within ${figure(led.seconds)} s (limit ${figure(limit.value)} s).`,
      events,
      causes: [
        'oil filter that drains: its return valve is missing or worn (wrong filter)',
        'oil level low, oil too thick for the cold',
        'pick-up sucks air, pump worn: it has lost its prime',
        'first start after an oil change or a long rest: then it is usual once',
        'sensor or its line slow',
      ],
      advice: [
        'Do not rev before the pressure is there. Level, and viscosity against what the maker asks for.',
        'Fit a filter with a return valve of the right kind; repeat after a night of standing.',
        'Measure with a mechanical gauge: is it the sensor?',
        ...(severity === 'watch' ? [] : ['Pick-up, its seal, pump and relief valve before it is driven much further.']),
      ],
    };
  }
  const cornersDone = cornering >= ENOUGH && !all.every((o) => o.everywhere) && unsure === undefined;
  const startDone = slowest !== undefined;
  const said = [inCorners, atStart].filter((each) => each !== '').join('; ');
  const told = said === '' ? '' : `${said.charAt(0).toUpperCase()}${said.slice(1)}`;
  if (!cornersDone || !startDone) {
    const unknown = all.map((o) => o.missing);
    const channelsMissing = cornersDone ? [] : [...new Set(unknown.flatMap((each) => each.channels))];
    const conditions = [
      ...(cornersDone
        ? []
        : [
            ...new Set(unknown.flatMap((each) => each.conditions)),
            unsure === undefined ? CORNERS : 'straight ahead at the engine speeds of the corners, >= 5 s each',
          ]),
      ...(startDone ? [] : [...new Set(all.flatMap((o) => o.startMissing.conditions)), START]),
    ];
    const open = [
      ...(cornersDone
        ? []
        : [
            unsure === undefined
              ? `corners were not seen for long enough (${figure(cornering, 0)} s)`
              : `${figure(unsure.pressure)} bar in a corner at ${figure(unsure.rpm, 0)} rpm (${clockTime(unsure.at)}), whose own pressure straight ahead is only known from ${figure(unsure.ownRpm, 0)} rpm`,
          ]),
      ...(startDone ? [] : ['no start was seen']),
    ].join(', ');
    return {
      ...base,
      outcome: 'unproven',
      summary: `${told === '' ? '' : `${told}; `}${told === '' ? `${open.charAt(0).toUpperCase()}${open.slice(1)}` : open}.`,
      missing: { channels: channelsMissing, conditions },
    };
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      // Either is enough: the share by its uncertainty of 5 %, the pressure by 0.1 bar.
      margin: Math.max(
        (100 * least!.share - (100 - named.drop!.value)) / 5,
        (least!.pressure - named.pressure!.value) / 0.1,
      ),
      uncertainty: 1,
      samples: Math.round(cornering * CORNER_HZ),
      channels,
      doubts,
    }),
    summary: `${told}.`,
  };
}
