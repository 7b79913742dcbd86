import type { CarReport, Course, CourseState, FleetReport, Since } from '../logbook/car-report.js';
import type { LogbookNote } from '../logbook/entry.js';
import type { Block, Line, Span, Tone } from './document.js';
import { dueRows } from './due-document.js';
import { number, percent, quantity } from './format.js';

/** A state in words and its tone. */
export const STATE: Readonly<Record<CourseState, { readonly text: string; readonly tone: Tone }>> = {
  drifting: { text: 'drifting', tone: 'repair' },
  changed: { text: 'stepped', tone: 'watch' },
  'weather-or-wear': { text: 'weather or wear', tone: 'unproven' },
  steady: { text: 'steady', tone: 'clear' },
  'too-few-drives': { text: 'too few drives', tone: 'quiet' },
};

const KINDS: Readonly<Record<LogbookNote['kind'], string>> = {
  service: 'service',
  oil: 'engine oil changed',
  fluid: 'transmission fluid changed',
  coolant: 'coolant changed',
  tyres: 'tyres changed',
  battery: 'battery changed',
  software: 'another program in a control unit',
  relearn: 'adaptations taught anew',
  repair: 'repair',
  other: 'note',
};

/** One car of the logbook: where it stands, what changed, what drifts, what is due. */
export function carDocument(report: CarReport): Block[] {
  return [
    titleOf(report),
    { kind: 'facts', rows: headRows(report) },
    ...sinceBlocks(report.since),
    ...courseBlocks(report.measures),
    ...(report.due === undefined
      ? []
      : [
          { kind: 'heading' as const, text: 'Due' },
          { kind: 'facts' as const, rows: dueRows(report.due) },
        ]),
    ...noteBlocks(report.notes, report.measures),
    { kind: 'heading', text: 'Cautions' },
    { kind: 'list', ordered: false, items: report.cautions },
  ];
}

function titleOf({ car, latest, drives }: CarReport): Block {
  const level = latest?.level;
  return {
    kind: 'title',
    line: [
      { text: car, strong: true },
      `  ${drives === 1 ? 'one drive' : `${drives} drives`}`,
      ...(level === undefined ? [] : ['  ', { text: level, tone: level, strong: true }, ' by the last one']),
    ],
  };
}

function headRows({ first, last, distance, latest }: CarReport): (readonly [string, Line])[] {
  return [
    ...(first === null || last === null
      ? []
      : [['Recorded', first === last ? dayOf(first) : `${dayOf(first)} to ${dayOf(last)}`] as const]),
    ...(distance === null
      ? []
      : [
          [
            'Odometer',
            distance.first === distance.last
              ? `${number(Math.round(distance.last))} km`
              : `${number(Math.round(distance.first))} to ${number(Math.round(distance.last))} km`,
          ] as const,
        ]),
    ...(latest === null
      ? []
      : ([
          [
            'Health index',
            `${Math.round(latest.index.low)} to ${Math.round(latest.index.high)}, shown ${percent(latest.coverage)}`,
          ],
          ...latest.findings.map(({ severity, summary }, i): readonly [string, Line] => [
            i === 0 ? 'Found last' : '',
            [{ text: severity, tone: severity, strong: true }, `  ${summary}`],
          ]),
        ] as const)),
  ];
}

/** What is different since the drive before. */
export function sinceBlocks(since: Since | null): Block[] {
  if (since === null) return [];
  const { level, appeared, gone, alarms, notes } = since;
  const items: Line[] = [
    ...(level.before === level.now
      ? []
      : [
          [
            'Verdict: ',
            { text: level.before, tone: level.before },
            ', now ',
            { text: level.now, tone: level.now, strong: true },
          ] satisfies Line,
        ]),
    ...appeared.map(
      ({ severity, summary }): Line => [
        'New or graver: ',
        { text: severity, tone: severity, strong: true },
        `  ${summary}`,
      ],
    ),
    ...alarms.map((name): Line => `Alarm: ${name} drifts, told for the first time`),
    ...gone.map(({ rule, severity }): Line => `No longer found: ${rule} (was ${severity})`),
    ...notes.map((note): Line => `Done: ${noteWords(note)}`),
  ];
  return [
    { kind: 'heading', text: 'Since the drive before', note: `${dayOf(since.from)} to ${dayOf(since.to)}` },
    items.length === 0 ? { kind: 'paragraph', line: 'Nothing changed.' } : { kind: 'list', ordered: false, items },
  ];
}

/** Courses that say something are told one by one, the quiet ones in a table, and what never moved in a sentence. */
function courseBlocks(all: readonly Course[]): Block[] {
  const told = all.filter(({ state }) => state === 'drifting' || state === 'changed');
  const still = all.filter((course) => course.state === 'steady' && neverMoved(course));
  const quiet = all.filter((course) => !told.includes(course) && !still.includes(course));
  return [
    { kind: 'heading', text: 'Drift' },
    ...(told.length === 0
      ? [
          {
            kind: 'paragraph' as const,
            line:
              all.length === 0
                ? 'No drive holds a measure that is followed.'
                : all.every(({ state }) => state === 'too-few-drives')
                  ? 'Too few drives to tell drift from chance.'
                  : 'Nothing drifts beyond what weather, load and chance explain.',
          },
        ]
      : []),
    ...told.flatMap((course): Block[] => [
      { kind: 'subheading', line: [stateSpan(course), `  ${course.name}`] },
      { kind: 'facts', rows: courseRows(course) },
    ]),
    ...(quiet.length === 0
      ? []
      : [
          {
            kind: 'subheading' as const,
            line: told.length === 0 ? 'what is followed' : 'what else is followed',
          },
          {
            kind: 'table' as const,
            head: ['measure', 'last', 'limit', 'state', perWords(quiet)],
            right: [1, 2],
            rows: quiet.map((course): Line[] => [
              course.name,
              lastOf(course),
              course.limit === null ? '' : quantity(course.limit.value, course.unit),
              [stateSpan(course), course.drivesNeeded > 0 ? `, ${course.drivesNeeded} more` : ''],
              slopeNumbers(course),
            ]),
          },
        ]),
    ...(still.length === 0
      ? []
      : [
          { kind: 'subheading' as const, line: 'the same in every drive' },
          { kind: 'paragraph' as const, line: still.map(stillWords).join('; ') },
        ]),
  ];
}

function neverMoved({ points }: Course): boolean {
  return points.length > 1 && points.every(({ value }) => value === points[0]!.value);
}

function stillWords(course: Course): string {
  const { name, limit, unit } = course;
  return `${name} ${lastOf(course)}${limit === null ? '' : ` (limit ${quantity(limit.value, unit)})`}`;
}

function stateSpan({ state }: Course): Span {
  return { text: STATE[state].text, tone: STATE[state].tone, strong: state === 'drifting' || state === 'changed' };
}

export function lastOf({ points, unit }: Course): string {
  const last = points[points.length - 1];
  return last === undefined ? '' : quantity(last.value, unit, 3);
}

const PER = { year: 'a year', '10000 km': 'in 10 000 km' } as const;

/** Head of the changes of a table: a car's are all told by the same. */
function perWords(all: readonly Course[]): string {
  const slope = all.find((course) => course.slope !== null)?.slope ?? null;
  return slope === null ? 'change' : `change ${PER[slope.per]}`;
}

/** `+0.8 (+0.3 to +1.3)`, in the unit of the measure. */
function slopeNumbers({ slope }: Course): string {
  if (slope === null || slope.value === null) return '';
  const signed = (value: number): string => `${value > 0 ? '+' : ''}${number(value, 2)}`;
  const range = slope.low === null || slope.high === null ? '' : ` (${signed(slope.low)} to ${signed(slope.high)})`;
  return `${signed(slope.value)}${range}`;
}

/** `+0.8 (+0.3 to +1.3) % a year`. */
export function slopeWords(course: Course): string {
  const { slope, unit } = course;
  if (slope === null || slope.value === null) return '';
  const sign = quantity(1, unit).replace(/^1/, '').trim();
  return `${slopeNumbers(course)}${sign === '' ? '' : ` ${sign}`} ${PER[slope.per]}`;
}

/** Rows of one course, also for the page. */
export function courseRows(course: Course): (readonly [string, Line])[] {
  const { limit, unit, forecast, baselines, changes } = course;
  return [
    ['Says', course.says],
    [
      'Last',
      `${lastOf(course)}${limit === null ? '' : `; limit ${quantity(limit.value, unit)} (${limit.source === 'profile' ? 'your profile' : limit.source})`}`,
    ],
    ...(course.slope === null ? [] : [['Mean change', slopeWords(course)] as const]),
    ...(forecast === null ? [] : [['Meets the limit', forecastWords(forecast)] as const]),
    ...(changes.length === 0 ? [] : [['Stepped', changes.map(dayOf).join(', ')] as const]),
    ...(baselines.length === 0
      ? []
      : [['New baseline', baselines.map(({ date, kind }) => `${dayOf(date)} (${KINDS[kind]})`).join(', ')] as const]),
  ];
}

function forecastWords({ date, distance }: NonNullable<Course['forecast']>): string {
  const parts = [
    ...(date === null ? [] : [between(date.low, date.high, (iso) => iso.slice(0, 7))]),
    ...(distance === null
      ? []
      : [between(distance.low, distance.high, (km) => `${number(Math.round(km / 100) * 100)} km`)]),
  ].filter((words) => words !== undefined);
  return parts.length === 0 ? 'too far off to be told, or never' : `${parts.join('; at ')} (95 % prediction interval)`;
}

function between<T>(low: T | null, high: T | null, words: (value: T) => string): string | undefined {
  if (low === null && high === null) return undefined;
  if (high === null) return `${words(low as T)} at the earliest, or never`;
  if (low === null) return `by ${words(high)}`;
  return `${words(low)} to ${words(high)}`;
}

/** The latest first, each with the measures that it started anew. */
function noteBlocks(notes: readonly LogbookNote[], measures: readonly Course[]): Block[] {
  if (notes.length === 0) return [];
  return [
    { kind: 'heading', text: 'Notes' },
    {
      kind: 'list',
      ordered: false,
      items: [...notes].reverse().map((note) => `${noteWords(note)}${anewWords(note, measures)}`),
    },
  ];
}

/** Measures that are named where a note starts more of them anew. */
const NAMED = 4;

function anewWords(note: LogbookNote, measures: readonly Course[]): string {
  const names = measures
    .filter(({ baselines }) => baselines.some(({ date, kind }) => date === note.date && kind === note.kind))
    .map(({ name }) => name);
  if (names.length === 0) return '';
  const more = names.length - NAMED;
  return `; new baseline: ${names.slice(0, NAMED).join('; ')}${more > 0 ? `; and ${more} more` : ''}`;
}

function noteWords({ date, distance, kind, text }: LogbookNote): string {
  return `${date.slice(0, 10)}${distance === null ? '' : `, ${number(Math.round(distance))} km`}: ${KINDS[kind]}${text === '' ? '' : `: ${text}`}`;
}

function dayOf(iso: string): string {
  return iso.slice(0, 10);
}

/** All cars of a book, the worst first. */
export function fleetDocument({ cars, cautions }: FleetReport): Block[] {
  return [
    { kind: 'title', line: [{ text: `${cars.length} cars`, strong: true }, '  worst first'] },
    {
      kind: 'table',
      head: ['', 'car', 'verdict', 'index', 'found', 'drives', 'last', 'drifting'],
      right: [4, 5],
      rows: cars.map((line, i): Line[] => [
        String(i + 1),
        [{ text: line.car, strong: true }],
        line.level === null ? '' : [{ text: line.level, tone: line.level }],
        line.index === null ? '' : `${Math.round(line.index.low)}–${Math.round(line.index.high)}`,
        String(line.findings),
        String(line.drives),
        line.last === null ? '' : dayOf(line.last),
        driftingWords(line),
      ]),
    },
    { kind: 'heading', text: 'Cautions' },
    { kind: 'list', ordered: false, items: cautions },
  ];
}

/** Names of what drifts; the one that meets its limit first with the month. */
function driftingWords({ drifting, first }: FleetReport['cars'][number]): string {
  return drifting
    .map((name) => (name === first?.name ? `${name} (limit from ${first.date.slice(0, 7)} on)` : name))
    .join('; ');
}
