import type { Change, EndpointChange, LimitResult, PullReport, Verification } from '../verify/verification.js';
import type { Block, Line, Span, Tone } from './document.js';
import { clock, number, percent, quantity, unitSign } from './format.js';
import { DYNAMIC, dynamicsBlocks } from './verification-dynamics.js';
import { reportedBlocks } from './verification-reported.js';
import { cellBlocks, correctionBlocks, tableBlocks } from './verification-tables.js';

const OUTCOME: Readonly<Record<Verification['outcome'], { readonly text: string; readonly tone: Tone }>> = {
  broken: { text: 'limits broken', tone: 'stop' },
  inside: { text: 'inside its limits', tone: 'sound' },
  'not-shown': { text: 'not shown', tone: 'unproven' },
};

const LIMIT: Readonly<Record<LimitResult['outcome'], { readonly text: string; readonly tone: Tone }>> = {
  broken: { text: 'broken', tone: 'stop' },
  held: { text: 'held', tone: 'sound' },
  'held-so-far': { text: 'held so far', tone: 'clear' },
  'not-shown': { text: 'not shown', tone: 'unproven' },
  'not-applicable': { text: 'does not apply', tone: 'quiet' },
};

const ORDER: readonly LimitResult['outcome'][] = ['broken', 'not-shown', 'held-so-far', 'held'];

const CHANGE: Readonly<Record<EndpointChange['outcome'], { readonly text: string; readonly tone: Tone }>> = {
  changed: { text: 'changed', tone: 'watch' },
  'not-distinguishable': { text: 'not distinguishable', tone: 'unproven' },
  'too-few': { text: 'too few pulls', tone: 'unproven' },
  'not-tested': { text: 'not tested', tone: 'quiet' },
};

/** The sign-off sheet: limits first, then what changed, then the pulls behind it. */
export function verificationDocument(sheet: Verification): Block[] {
  const { text, tone } = OUTCOME[sheet.outcome];
  return [
    {
      kind: 'title',
      line: [
        { text: 'Map sign-off: ', strong: true },
        { text, tone, strong: true },
        ...(sheet.vehicle.id === '' ? [] : [{ text: `  ${sheet.vehicle.id}`, tone: 'quiet' as const }]),
      ],
    },
    { kind: 'list', ordered: false, items: sheet.reasons.map(sentence) },
    ...problemBlocks(sheet),
    ...limitBlocks(sheet),
    ...reportedBlocks(sheet.reported),
    ...changeBlocks(sheet.change),
    ...dynamicsBlocks(sheet),
    ...tableBlocks(sheet.tables),
    ...cellBlocks(sheet.cellChanges, sheet.tables?.[0]?.load.unit),
    ...correctionBlocks(sheet.correction),
    ...pullBlocks(sheet),
    ...listed('To record next', sheet.record),
    ...listed('Cautions', sheet.cautions),
  ];
}

function problemBlocks({ problems, inputs }: Verification): Block[] {
  const unusable = inputs.flatMap(({ error }) => (error === undefined ? [] : [`Unusable: ${error.message}`]));
  return listed('To know first', [...problems.map(({ message }) => message), ...unusable]);
}

function limitBlocks({ limits, inputs, pulls }: Verification): Block[] {
  const asked = limits.filter(({ pulls: shown, outcome }) => shown > 0 && outcome !== 'not-applicable');
  const open = limits.filter(({ outcome }) => outcome === 'not-shown');
  const after = inputs.filter(({ side }) => side === 'after').length;
  const gears = new Set(pulls.filter(({ side }) => side === 'after').map(({ gear }) => gear)).size;
  const rows = ORDER.flatMap((outcome) => asked.filter((each) => each.outcome === outcome)).map((each): Line[] => [
    [{ text: LIMIT[each.outcome].text, tone: LIMIT[each.outcome].tone, strong: each.outcome === 'broken' }],
    each.title,
    `${each.limit.comparison} ${quantity(each.limit.value, each.limit.unit)}`,
    worstOf(each),
    pullsOf(each),
    whereOf(each, { several: after > 1, gears: gears > 1 }, inputs),
  ]);
  return [
    { kind: 'heading', text: 'Limits', note: 'the worst pull of each, and where' },
    ...(rows.length === 0
      ? ([{ kind: 'paragraph', line: 'No limit could be asked: no pull showed what it limits.' }] satisfies Block[])
      : ([
          { kind: 'table', head: ['', 'limit on', 'breaks at', 'worst', 'pulls', 'where'], rows, right: [3] },
        ] satisfies Block[])),
    ...rateBlocks(asked),
    ...(open.length === 0
      ? []
      : ([
          { kind: 'subheading', line: 'Not shown, and why' },
          {
            kind: 'list',
            ordered: false,
            items: open.map(({ title, notes }) => [
              `${title}: `,
              { text: sentence(notes.join('; ')), tone: 'quiet' as const },
            ]),
          },
        ] satisfies Block[])),
    ...sourceBlocks(asked),
  ];
}

function sourceBlocks(asked: readonly LimitResult[]): Block[] {
  const sources = new Map<string, string[]>();
  for (const { limit, title } of asked) sources.set(limit.source, [...(sources.get(limit.source) ?? []), title]);
  if (sources.size === 0) return [];
  return [
    { kind: 'subheading', line: 'Where the limits come from' },
    {
      kind: 'list',
      ordered: false,
      items: [...sources].map(([source, titles]) => [
        `${source === 'profile' ? 'Your profile' : source === 'limits file' ? 'Your limits file' : sentence(source)} `,
        { text: `(${titles.join('; ')})`, tone: 'quiet' },
      ]),
    },
  ];
}

/** `3 of 12 break`, `12 hold`. */
function pullsOf({ pulls, broken }: LimitResult): string {
  return broken > 0 ? `${broken} of ${pulls} break` : `${pulls}`;
}

/** A value on the good side of nothing is no amount: there is no boost missing where it stands above its target. */
function worstOf({ worst, limit }: LimitResult): string {
  if (worst === undefined) return '';
  const { value, unit } = worst.measure;
  if (typeof value === 'number' && Math.sign(value) === -Math.sign(limit.value)) return 'none';
  return quantity(value, unit, 3);
}

/** In full where it breaks; where it holds, only which pull came nearest. */
function whereOf(
  { worst, outcome }: LimitResult,
  { several, gears }: { readonly several: boolean; readonly gears: boolean },
  inputs: Verification['inputs'],
): string {
  if (worst === undefined) return '';
  const full = outcome === 'broken' || outcome === 'not-shown';
  const parts = [
    `pull ${worst.pull}`,
    ...(gears && worst.gear !== null ? [`gear ${worst.gear}`] : []),
    ...(worst.member === undefined ? [] : [worst.member]),
    ...(worst.engineSpeed === null ? [] : [`${number(Math.round(worst.engineSpeed))} rpm`]),
    ...(full && worst.at !== null ? [`at ${clock(worst.at, true)}`] : []),
    ...(full && several ? [inputs[worst.input]?.file ?? ''] : []),
  ];
  return parts.join(', ');
}

/** What so many pulls without a break are worth, told once for limits with the same number of pulls. */
function rateBlocks(asked: readonly LimitResult[]): Block[] {
  const held = asked.filter(({ outcome }) => outcome === 'held' || outcome === 'held-so-far');
  const counts = [...new Set(held.map(({ pulls }) => pulls))].sort((a, b) => b - a);
  return counts.slice(0, 3).map((pulls): Block => {
    const { rate } = held.find((each) => each.pulls === pulls)!;
    return {
      kind: 'paragraph',
      line: [
        {
          text: `Held in ${pulls} ${pulls === 1 ? 'pull' : 'pulls'}: the true rate of breaking pulls is at most ${percent(rate?.high ?? 1)} (95 %).`,
          tone: 'quiet',
        },
      ],
    };
  });
}

function changeBlocks(change: Change | undefined): Block[] {
  if (change === undefined) return [];
  const { gear, engineSpeed, pulls, endpoints, attribution } = change;
  const primary = endpoints.filter((each) => each.primary);
  const others = endpoints.filter(
    (each) => !each.primary && each.difference !== undefined && !DYNAMIC.includes(each.id),
  );
  const range = `${number(Math.round(engineSpeed.from))} to ${number(Math.round(engineSpeed.to))} rpm`;
  const found = primary.filter(({ outcome }) => outcome === 'changed');
  const said =
    primary.length === 0
      ? 'Too few pulls on both sides to tell any change.'
      : found.length === 0
        ? 'Not distinguishable: before and after differ by no more than the pulls of one side differ among themselves.'
        : `Changed: ${found.map(({ title }) => title).join('; ')}.`;
  const blame =
    found.length === 0
      ? ''
      : attribution === 'map'
        ? ` The map, not the session: ${change.attributionReason}.`
        : ` Map or session, not separable: ${change.attributionReason}.`;
  return [
    {
      kind: 'heading',
      text: 'Before and after',
      note: `${gear === null ? '' : `gear ${gear}, `}${range}, ${pulls.before} pulls before and ${pulls.after} after`,
    },
    { kind: 'paragraph', line: `${said}${blame}` },
    ...(primary.length === 0 ? [] : [endpointTable(primary, true)]),
    ...(primary.length === 0
      ? []
      : ([
          {
            kind: 'paragraph',
            line: [
              {
                text: `One number a pull, Welch; p after Holm over these rows, so that one wrong "changed" in all of them has a chance of 5 %. ${seenFrom(primary)}`.trim(),
                tone: 'quiet',
              },
            ],
          },
        ] satisfies Block[])),
    ...adjustedBlocks(primary),
    ...maximaBlocks(endpoints),
    ...(others.length === 0
      ? []
      : ([{ kind: 'subheading', line: 'Also measured, not tested' }, endpointTable(others, false)] satisfies Block[])),
    ...conditionBlocks(change),
  ];
}

/** What as many pulls as these can tell at all. */
function seenFrom(endpoints: readonly EndpointChange[]): string {
  const parts = endpoints.flatMap(({ title, unit, detectable }) =>
    detectable === undefined ? [] : [`${title} ${quantity(detectable, unit, 2)}`],
  );
  return parts.length === 0
    ? ''
    : `Smallest true change that as many pulls as these see four times in five: ${parts.join('; ')}.`;
}

function endpointTable(endpoints: readonly EndpointChange[], tested: boolean): Block {
  return {
    kind: 'table',
    head: ['', 'before', 'after', 'change', '95 % interval', ...(tested ? [''] : [])],
    right: [1, 2, 3],
    rows: endpoints.map((each): Line[] => {
      const { difference } = each;
      const sign = unitSign(each.unit);
      const { text, tone } = CHANGE[each.outcome];
      return [
        `${each.title}${sign === '' ? '' : `, ${sign}`}`,
        plain(each.before.mean),
        plain(each.after.mean),
        difference === undefined ? '' : signed(difference.value),
        difference === undefined ? '' : `${signed(difference.low)} to ${signed(difference.high)}`,
        ...(tested
          ? [
              [
                { text, tone, strong: each.outcome === 'changed' },
                each.adjustedP === undefined ? '' : ` (p ${probability(each.adjustedP)})`,
              ] as Line,
            ]
          : []),
      ];
    }),
  };
}

function adjustedBlocks(endpoints: readonly EndpointChange[]): Block[] {
  const items = endpoints.flatMap(({ title, unit, atEqualTemperature: at }) =>
    at === undefined
      ? []
      : [`${title}: ${signed(at.value)} (${signed(at.low)} to ${signed(at.high)}) ${unitSign(unit)}`.trim()],
  );
  return items.length === 0
    ? []
    : [
        { kind: 'subheading', line: 'At equal charge temperature at the start' },
        { kind: 'list', ordered: false, items },
      ];
}

function maximaBlocks(endpoints: readonly EndpointChange[]): Block[] {
  const items = endpoints.flatMap(({ title, unit, maxima }) =>
    maxima === undefined
      ? []
      : [
          `${title}: worst of ${maxima.pulls} pulls ${quantity(maxima.before, unit, 3)} before, ${quantity(maxima.after, unit, 3)} after`,
        ],
  );
  return items.length === 0
    ? []
    : [
        { kind: 'subheading', line: 'Extremes at equal numbers of pulls' },
        { kind: 'list', ordered: false, items },
      ];
}

function conditionBlocks({ conditions }: Change): Block[] {
  if (conditions.length === 0) return [];
  return [
    { kind: 'subheading', line: 'Under which conditions' },
    {
      kind: 'table',
      head: ['', 'before', 'after'],
      right: [1, 2],
      rows: conditions.map(({ title, unit, before, after }) => [
        title,
        quantity(before, unit, 3),
        quantity(after, unit, 3),
      ]),
    },
  ];
}

function pullBlocks({ pulls, inputs }: Verification): Block[] {
  if (pulls.length === 0) return [];
  return [
    {
      kind: 'heading',
      text: 'Pulls',
      note: 'pedal to the floor in one gear; found by themselves',
    },
    {
      kind: 'table',
      head: ['', 'from', 'gear', 'rpm', 'charge', 'oil', 'file'],
      right: [2, 4, 5],
      rows: pulls.map((pull): Line[] => [
        `${pull.side} ${pull.number}`,
        clock(pull.from, true),
        pull.gear === null ? '' : String(pull.gear),
        `${Math.round(pull.engineSpeed.from)}–${Math.round(pull.engineSpeed.to)}`,
        temperatureOf(pull, 'chargeTemperature'),
        temperatureOf(pull, 'oilTemperature'),
        fileOf(pull, inputs),
      ]),
    },
  ];
}

function fileOf({ input, notes }: PullReport, inputs: Verification['inputs']): Line {
  const said: Span[] = notes.length === 0 ? [] : [{ text: `  ${notes.join('; ')}`, tone: 'watch' }];
  return [inputs[input]?.file ?? '', ...said];
}

function temperatureOf({ conditions }: PullReport, id: string): string {
  const found = conditions[id];
  return found === undefined || typeof found.value !== 'number' ? '' : `${Math.round(found.value)} °C`;
}

function listed(text: string, items: readonly string[]): Block[] {
  return items.length === 0
    ? []
    : [
        { kind: 'heading', text },
        { kind: 'list', ordered: false, items },
      ];
}

function plain(value: number): string {
  return number(value, 3);
}

function signed(value: number): string {
  return `${value > 0 ? '+' : ''}${number(value, 3)}`;
}

function probability(p: number): string {
  return p < 0.001 ? '< 0.001' : number(p, 2);
}

function sentence(text: string): string {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}${/[.]$/.test(text) ? '' : '.'}`;
}
