import { lastValue } from '../../derived/last-value.js';
import { READ_OUT } from '../../derived/read-out.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import type { StoredCode } from '../../recording/read-out.js';
import { confidenceOf } from '../confidence.js';
import { worst } from '../ladder.js';
import { type Context, defineRule, type Judgement, type Observed } from '../rule.js';
import { counted, listed } from '../wording.js';
import { weigh } from './stored-weighing.js';
import { adviceOf, causesOf, detailsOf, summaryOf } from './stored-wording.js';

const READ_ALL =
  'trouble codes of every control unit (engine, transmission, brakes, body), stored, pending and permanent, with their freeze frames';

interface CodesObservation {
  /** Undefined when this read-out is no code list. */
  readonly codes: readonly StoredCode[] | undefined;
  /** Codes that the control unit says it has; NaN when it does not say. */
  readonly counted: number;
  readonly lamp: boolean;
}

export const storedCodes = defineRule({
  id: 'codes.stored',
  system: 'codes',
  question: 'Which trouble codes are stored, how serious are they, and do the recordings agree?',
  why: 'A control unit watches the car for months, a recording for minutes: what it has stored is the cheapest evidence there is.',
  weight: 2,
  needs: {
    channels: [],
    optional: ['codeCount'],
    derived: [READ_OUT],
    conditions: [READ_ALL],
  },
  readOuts: true,
  joins: true,
  limits: [
    {
      name: 'watch',
      value: 0,
      unit: '1',
      comparison: '>',
      source: 'common practice, no source',
      about: 'codes in memory',
    },
  ],
  method:
    'Each code is taken apart by its structure (SAE J2012 / ISO 15031-6, from memory): letter, who defines it, system. Generic codes carry a meaning and a severity of our own table; others the severity of their part of the car. Pending codes and codes kept as history count one step less. Then each code is set against the rules that look at the same thing: a finding confirms it, and a pending one then counts in full; the nearest rule being clear contradicts it, and it counts one step less. An empty memory is clear only when it was not emptied just before.',
  decoys: [
    'codes that control units store about each other when the battery is weak: watch',
    'a code of the past, mended and never cleared: contradicted by the recording, one step less',
    'codes of the maker: their meaning is not guessed',
    'the padding 0000 of a short answer: no code',
    'memory emptied just before the visit: no proof of a sound car',
  ],
  cautions: ['Read codes before anything else, and clear none: clearing destroys evidence.'],
  proves: `A read-out of ${READ_ALL}, as CSV or text.`,
  observe(view) {
    const last = lastValue(view.optional('codeCount'));
    const readOut = view.derive(READ_OUT);
    if (isRefusal(readOut))
      return last > 0
        ? { codes: undefined, counted: last, lamp: false }
        : refuse('no trouble codes were read out', { conditions: [READ_ALL] });
    const { codes, readiness } = readOut;
    const observation = { codes, counted: readiness?.codeCount ?? last, lamp: readiness?.lamp === true };
    if (codes === undefined && !(observation.counted > 0) && !observation.lamp)
      return refuse('no trouble codes were read out', { conditions: [READ_ALL] });
    return observation;
  },
  judge,
});

function judge(observed: readonly Observed<CodesObservation>[], context: Context): Judgement {
  const lists = observed.flatMap(({ observation: { codes } }) => (codes === undefined ? [] : [codes]));
  const count = Math.max(0, ...observed.map(({ observation }) => observation.counted).filter((n) => !Number.isNaN(n)));
  const lamp = observed.some(({ observation }) => observation.lamp);
  const limits = Object.values(context.limits());
  const results = context.results ?? new Map();
  if (lists.length === 0) return onlyCounted(count, lamp, limits);
  const weighed = weigh(lists.flat(), results);
  const number = (test: (each: (typeof weighed)[number]) => boolean): { value: number } => ({
    value: weighed.filter(test).length,
  });
  const measures = {
    codes: { value: weighed.length },
    stored: number(({ entry }) => entry.statuses.includes('stored')),
    pending: number(({ entry }) => entry.statuses.includes('pending')),
    permanent: number(({ entry }) => entry.statuses.includes('permanent')),
    confirmed: number(({ agreement }) => agreement === 'confirmed'),
    contradicted: number(({ agreement }) => agreement === 'contradicted'),
  };
  const notes = notesOf(lists.flat(), count);
  const base = { measures, limits, notes };
  if (weighed.length === 0) {
    if (results.get('provenance.recent-clear')?.outcome === 'finding') {
      return {
        ...base,
        outcome: 'unproven',
        summary: 'The memory holds no code, but it was emptied not long ago: that says nothing about the car.',
        missing: {
          channels: [],
          conditions: ['codes read again after 100 km and ten warm-ups, with every readiness monitor complete'],
        },
      };
    }
    return {
      ...base,
      outcome: 'clear',
      // Without the distance since the last clearing an empty memory is weaker evidence.
      confidence: confidenceOf({
        margin: 1,
        uncertainty: 0,
        samples: 9,
        channels: [],
        doubts: [results.get('provenance.recent-clear')?.outcome === 'clear' ? 1 : 0.7],
      }),
      summary: 'No trouble code is stored.',
    };
  }
  const severity = worst(weighed.map((each) => each.severity)) ?? 'watch';
  const leading = weighed[0]!;
  return {
    ...base,
    outcome: 'finding',
    severity,
    confidence: confidenceOf({
      margin: 1,
      uncertainty: 0,
      samples: 19,
      channels: [],
      doubts: [
        leading.entry.assumed ? 0.9 : 1,
        leading.grade.known ? 1 : 0.8,
        leading.agreement === 'contradicted' ? 0.7 : leading.agreement === 'open' ? 0.85 : 1,
      ],
    }),
    summary: summaryOf(weighed),
    causes: causesOf(weighed),
    advice: adviceOf(weighed),
    details: detailsOf(weighed),
  };
}

/** The control unit says that it has codes, and nobody read them. */
function onlyCounted(count: number, lamp: boolean, limits: Judgement['limits'] & object): Judgement {
  const said = [
    ...(count > 0 ? [`counts ${counted(count, 'confirmed code')}`] : []),
    ...(lamp ? ['orders the engine lamp on'] : []),
  ];
  return {
    outcome: 'finding',
    severity: 'watch',
    confidence: confidenceOf({ margin: 1, uncertainty: 0, samples: 9, channels: [] }),
    measures: { codes: { value: count } },
    limits,
    summary: `The engine control unit ${said.join(' and ')}; which codes they are was not read out.`,
    causes: ['a fault that the control unit has confirmed'],
    advice: ['Read out the codes with their freeze frames before anything else, and clear none.'],
  };
}

function notesOf(codes: readonly StoredCode[], count: number): string[] {
  const notes: string[] = [];
  const units = [...new Set(codes.map(({ module }) => module).filter((name) => name !== ''))];
  if (units.length > 0) notes.push(`Codes come from: ${listed(units.slice(0, 6).map((name) => name.slice(0, 40)))}.`);
  const firm = codes.filter(({ statuses }) => statuses.includes('stored')).length;
  if (count > firm)
    notes.push(
      `The engine control unit counts ${counted(count, 'confirmed code')}; the list holds ${firm}: it is not complete.`,
    );
  const assumed = codes.filter((each) => each.assumed).length;
  if (assumed > 0) notes.push(`${counted(assumed, 'code')} without a status: taken as stored.`);
  return notes;
}
