import { spoken } from '../../channels/spoken.js';
import { CLOCK_RESTARTS } from '../../derived/clock-restarts.js';
import { SAMPLES } from '../../derived/samples.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, counted, figure, listed } from '../wording.js';
import { LIVELY, type RecordingReading, readRecording, STATES, WITNESSES } from './recording-reading.js';
import {
  apartSign,
  bridgeSign,
  copySign,
  counterSign,
  editSign,
  type Sign,
  seamSign,
  stepsSign,
} from './recording-wording.js';

const CP = 'common practice, no source';

const limits: readonly LimitDefinition[] = [
  {
    name: 'watch',
    value: 1,
    unit: '1',
    comparison: '>=',
    source: CP,
    about:
      'places where time is missing while the engine ran, a clock at another pace than that of the car, columns of one quantity that stand apart over the whole recording',
  },
  {
    name: 'repair',
    value: 1,
    unit: '1',
    comparison: '>=',
    source: CP,
    about:
      'places that no car and no logger writes: states that leap together, copied rows, computed rows, edited columns',
  },
];

const CAUSES: Readonly<Record<Sign['kind'], readonly string[]>> = {
  joined: ['a stretch cut out and the clock rewritten', 'two recordings joined into one'],
  missing: ['a stretch cut out and the clock rewritten'],
  paused: ['recording paused, or the link to the car lost', 'a stretch cut out'],
  copied: ['a stretch copied over another', 'a logger that wrote its buffer twice'],
  bridged: ['a stretch replaced by computed rows', 'a lost link that the logger filled with straight lines'],
  edited: ['a column changed by hand', 'a sensor or its plug that failed for a while'],
  apart: ['a column scaled or smoothed over its whole length', 'unit or scaling of a column set wrongly in the logger'],
  clock: ['clock of the file rewritten', 'clock of the logger wrong'],
};

export const recording = defineRule({
  id: 'provenance.recording',
  system: 'provenance',
  question: 'Is the recording whole, and written by one car in one drive?',
  why: 'Everything else is concluded from it. A file that was cut, joined or edited proves nothing, and says something about who hands it over.',
  weight: 1,
  needs: {
    channels: [],
    optional: [...STATES, ...LIVELY, ...WITNESSES],
    derived: [SAMPLES, CLOCK_RESTARTS],
    conditions: ['a drive of some minutes with temperatures, speeds, pressures and the run time of the engine'],
  },
  limits,
  method:
    'Temperatures, outside pressure, fuel level and speeds cannot leap from one sample to the next: two kinds of state that leap together are a seam. Run time of the engine and odometer are held against the clock of the file. Windows of the liveliest columns are hashed, and each repetition is compared value by value; only changes count, so held values, idle and standstill carry nothing. Where the columns that move all run straight for 10 s and more to one of their steps, and bend elsewhere, the rows are computed. Road speeds are held against each other, and the noise of each column against its usual one and that of the others, window by window: an edited stretch begins and ends from one row to the next; noise under half a step is not told, and where the columns of its kind fall quiet with it, or it is as quiet beside the others elsewhere, it is the driving. A column that keeps to steps everywhere but in one stretch was rewritten there. Over the whole recording columns of one quantity are held against each other: road speeds, engine speed and the shaft of the gear engaged, absolute load and air mass (SAE J1979 PID 43, from memory), pressure on both sides of an open throttle, the noise of the four wheels; an engine speed that lies flat on its highest reading while the car gathers speed was cut off. A column that nothing recorded can contradict is named: changed over its whole length in a believable way it is not seen here; provenance.sensor-agreement compares pressures, air and torque by physics.',
  decoys: [
    'values held over several rows, standstill and steady idle',
    'one sensor that fails or has a loose plug: one channel alone is no seam',
    'pauses and lost links: told as gaps, no finding without a counter that contradicts',
    'two sessions in one file, each with its own clock: nothing is compared across',
    'engine stopped and started again: its run time starts again',
    'columns that are not supported or stood still from the start: problems of the input',
    'a speed display that reads up to a tenth and 4 km/h high; tyres of another size',
    'a column without steps of its own, and one whose steps were rounded in writing',
    'quiet driving, which quietens all columns together',
  ],
  cautions: ['A sign of editing is no proof of intent: ask for the file as the logger wrote it, then record again.'],
  proves:
    'A recording made with the buyer in the car, handed over at once, with temperatures, run time of the engine, engine and road speed, pressure and air mass.',
  observe: (view) => readRecording(view),
  judge,
});

function judge(observed: readonly Observed<RecordingReading>[], context: Context): Judgement {
  const named = context.limits();
  const signs = observed.flatMap(({ input, observation: each }): Sign[] => [
    ...each.seams.map((seam) => seamSign(seam, input)),
    ...each.counters.map((fault) => counterSign(fault, input)),
    ...each.copies.map((copy) => copySign(copy, input)),
    ...each.bridges.map((bridge) => bridgeSign(bridge, input)),
    ...each.edits.map((edit) => editSign(edit, input)),
    // One edit may show in both ways: told once.
    ...each.steps
      .filter((a) => !each.edits.some((b) => a.channel === b.channel && a.from < b.to && b.from < a.to))
      .map((steps) => stepsSign(steps, input)),
    ...each.whole.apart.map((apart) => apartSign(apart, input, each.duration)),
  ]);
  const count = (kind: Sign['kind']): number => signs.filter((sign) => sign.kind === kind).length;
  const all = observed.map(({ observation }) => observation);
  const total = (of: (reading: RecordingReading) => number): number => all.reduce((sum, each) => sum + of(each), 0);
  const hard = signs.filter(({ severity }) => severity === 'repair');
  const soft = signs.filter(({ severity }) => severity === 'watch');
  const pieces = total((each) => each.pieces - 1);
  const gaps = total((each) => each.gaps);
  const base = {
    measures: {
      joined: { value: count('joined') },
      missing: { value: count('missing') + count('paused') },
      copied: { value: count('copied') },
      bridged: { value: count('bridged') },
      edited: { value: count('edited') },
      apart: { value: count('apart') },
      clock: { value: count('clock') },
      gaps: { value: gaps },
    },
    limits: Object.values(named),
    events: signs.slice(0, 40).map(({ event }) => event),
    notes: [
      ...(gaps > 0
        ? [
            `${counted(gaps, 'gap')} of more than a minute, ${clockTime(total((each) => each.lost))} min together: what happened in them is not shown.`,
          ]
        : []),
      ...(pieces > 0
        ? [
            `The clock of the file starts again ${pieces === 1 ? 'once' : `${pieces} times`}: more than one recording stands in it.`,
          ]
        : []),
      ...heldNote(all),
    ],
  };
  const severity =
    hard.length >= named.repair!.value ? 'repair' : soft.length >= named.watch!.value ? 'watch' : undefined;
  if (severity !== undefined) {
    const told = [...hard, ...soft];
    const kinds = [...new Set(told.map(({ kind }) => kind))];
    const more = told.length - 3;
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin: 1,
        uncertainty: 0,
        samples: 9 + 5 * told.length,
        channels: [],
        doubts: [severity === 'watch' ? 0.7 : kinds.every((kind) => kind === 'edited') ? 0.85 : 1],
      }),
      summary: `${severity === 'repair' ? 'The recording is not what was driven' : kinds.every((kind) => kind === 'apart') ? 'Columns of the recording contradict each other' : 'The recording is not whole'}: ${told
        .slice(0, 3)
        .map(({ text }) => text)
        .join('; ')}${more > 0 ? `; ${counted(more, 'further place')}` : ''}.`,
      causes: [...new Set(kinds.flatMap((kind) => CAUSES[kind]))],
      advice: [
        'Ask for the file as the logger wrote it, and how it was made.',
        'Record again with the buyer in the car, from a cold start, and take the file at once.',
        'Rest no decision on the recording until then.',
      ],
    };
  }
  const states = Math.max(...all.map((each) => each.states));
  const lively = Math.max(...all.map((each) => each.lively));
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: 1,
      uncertainty: 0,
      samples: 9,
      channels: [],
      doubts: [states >= 3 ? 1 : 0.8, lively >= 5 ? 1 : 0.8],
    }),
    summary: `${clockTime(total((each) => each.duration))} min without a seam, a copied stretch or an edited column: ${counted(states, 'state')} and ${figure(lively, 0)} lively columns held against each other.`,
  };
}

/** Which columns another one speaks for, and which could have been changed all along. */
function heldNote(all: readonly RecordingReading[]): string[] {
  const base = (id: string): string => id.split('.')[0]!;
  const held = new Set(all.flatMap(({ whole }) => whole.compared.map(base)));
  const alone = new Set(
    all.flatMap(({ channels }) => channels.map(({ id }) => base(id))).filter((id) => !held.has(id)),
  );
  if (alone.size === 0) return [];
  const names = [...alone].slice(0, 8).map(spoken);
  return [
    `Not shown: whether a column was changed over its whole length where no other one reads the same: ${listed(names)}${alone.size > 8 ? ` and ${alone.size - 8} more` : ''}.`,
  ];
}
