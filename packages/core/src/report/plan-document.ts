import { spoken } from '../channels/spoken.js';
import type { Plan, PlannedChannel, PlannedPhase } from '../plan/plan.js';
import type { Block, Line } from './document.js';

const WHERE: Readonly<Record<PlannedPhase['where'], string>> = {
  standing: 'standing',
  road: 'on the road',
  'closed-course': 'closed course only',
};
const PRIORITY: Readonly<Record<PlannedChannel['priority'], string>> = {
  1: 'First',
  2: 'Then',
  3: 'If there is room',
};

/** The plan of a visit: how the car stands, what is read out and recorded, what is driven, what to beware of. */
export function planDocument(plan: Plan): Block[] {
  if (plan.open.length === 0)
    return [
      { kind: 'title', line: [{ text: 'Nothing is left to show', strong: true }] },
      { kind: 'paragraph', line: 'The assessment answered every question that makes sense for this car.' },
      ...cautionBlocks(plan),
    ];
  return [
    titleOf(plan),
    { kind: 'paragraph', line: summaryOf(plan) },
    ...firstBlocks(plan),
    ...presentationBlocks(plan),
    ...readOutBlocks(plan),
    ...channelBlocks(plan),
    ...phaseBlocks(plan),
    ...alsoBlocks(plan),
    ...openBlocks(plan),
    ...cautionBlocks(plan),
  ];
}

function titleOf({ vehicle, basis }: Plan): Block {
  const what = basis === 'assessment' ? 'Plan: what is still to be shown' : 'Plan of the visit';
  return {
    kind: 'title',
    line: [
      { text: what, strong: true },
      ...(vehicle.id === '' ? [] : [{ text: `  (${vehicle.id})`, tone: 'quiet' as const }]),
    ],
  };
}

function summaryOf({ basis, open, phases, duration, readOuts }: Plan): string {
  const questions = `${open.length} ${open.length === 1 ? 'question' : 'questions'}${basis === 'assessment' ? ' left open' : ''}`;
  const driven =
    phases.length === 0 ? 'no driving' : `${counted(phases.length, 'phase')}, about ${duration.value} minutes`;
  const read = readOuts.length === 0 ? '' : `; ${counted(readOuts.length, 'read-out')} before the engine is started`;
  return `${questions}; ${driven}${read}.`;
}

function firstBlocks({ first, phases }: Plan): Block[] {
  if (first === undefined) return [];
  const names = phasesNamed(phases, first.phases);
  return [
    {
      kind: 'paragraph',
      line: [
        { text: `Short of time: ${names}`, strong: true },
        ` (${first.duration.value} min) ${first.phases.length === 1 ? 'settles' : 'settle'} the weightiest questions: ${first.settles.join(', ')}.`,
      ],
    },
  ];
}

function phasesNamed(phases: readonly PlannedPhase[], ids: readonly string[]): string {
  const numbers = ids.map((id) => phases.findIndex((phase) => phase.id === id) + 1).filter((n) => n > 0);
  return `${numbers.length === 1 ? 'phase' : 'phases'} ${numbers.join(', ')}`;
}

function presentationBlocks({ presentation }: Plan): Block[] {
  if (presentation.length === 0) return [];
  return [
    { kind: 'heading', text: 'How the car must stand' },
    { kind: 'list', ordered: false, items: presentation },
  ];
}

function readOutBlocks({ readOuts }: Plan): Block[] {
  if (readOuts.length === 0) return [];
  const blocks: Block[] = [{ kind: 'heading', text: 'Read out', note: 'before the engine is started; clear nothing' }];
  for (const { title, items, proves } of readOuts)
    blocks.push(
      { kind: 'subheading', line: [{ text: title, strong: true }] },
      { kind: 'list', ordered: false, items },
      { kind: 'paragraph', line: [{ text: `Answers ${proves.join(', ')}`, tone: 'quiet' }] },
    );
  return blocks;
}

function channelBlocks({ channels }: Plan): Block[] {
  if (channels.length === 0) return [];
  const rows: [string, Line][] = [];
  for (const priority of [1, 2, 3] as const) {
    const rates = [...new Set(channels.filter((c) => c.priority === priority).map(({ rate }) => rate.value))];
    rates.sort((a, b) => b - a);
    rates.forEach((hz, k) => {
      const names = channels.filter((c) => c.priority === priority && c.rate.value === hz).map(({ id }) => spoken(id));
      rows.push([k === 0 ? PRIORITY[priority] : '', [{ text: `${hz} Hz  `, strong: true }, names.join('; ')]]);
    });
  }
  return [
    {
      kind: 'heading',
      text: 'Record',
      note: 'of every cylinder, bank and wheel that is served',
    },
    { kind: 'facts', rows },
  ];
}

function phaseBlocks({ phases }: Plan): Block[] {
  if (phases.length === 0) return [];
  const blocks: Block[] = [{ kind: 'heading', text: 'Drive', note: 'in this order, one recording for all of it' }];
  phases.forEach(({ title, duration, where, dynamometer, steps, cautions, proves }, k) => {
    blocks.push(
      {
        kind: 'subheading',
        line: [
          { text: `${k + 1}  ${title}`, strong: true },
          {
            text: `  ${duration.value} min, ${dynamometer === true ? 'closed course or dynamometer only' : WHERE[where]}`,
            tone: 'quiet',
          },
        ],
      },
      { kind: 'list', ordered: false, items: steps },
    );
    const rows: [string, Line][] = cautions.map((caution, i) => [i === 0 ? 'Beware' : '', caution]);
    if (proves.length > 0) rows.push(['Answers', proves.join(', ')]);
    if (rows.length > 0) blocks.push({ kind: 'facts', rows });
  });
  return blocks;
}

function alsoBlocks({ also }: Plan): Block[] {
  if (also.length === 0) return [];
  return [
    { kind: 'heading', text: 'Besides', note: 'what no drive shows' },
    { kind: 'facts', rows: merged(also) },
  ];
}

/** One row a thing, however many rules ask for it. */
function merged(also: Plan['also']): [string, Line][] {
  const rules = new Map<string, string[]>();
  for (const { rule, what } of also) rules.set(what, [...(rules.get(what) ?? []), rule]);
  return [...rules].map(([what, ids]) => [ids.join(', '), what]);
}

function openBlocks({ open, basis }: Plan): Block[] {
  if (basis === 'everything') return [];
  return [
    { kind: 'heading', text: 'Left open', note: 'and why' },
    { kind: 'table', head: ['', ''], rows: open.map(({ rule, why, question }) => [rule, why ?? question]) },
  ];
}

function cautionBlocks({ cautions }: Plan): Block[] {
  return [
    { kind: 'heading', text: 'On the seller’s ground' },
    { kind: 'list', ordered: false, items: cautions.site },
    { kind: 'heading', text: 'Stop at once' },
    { kind: 'list', ordered: false, items: cautions.abort },
    { kind: 'heading', text: 'Cautions' },
    { kind: 'list', ordered: false, items: cautions.general },
  ];
}

function counted(n: number, noun: string): string {
  return `${n} ${noun}${n === 1 ? '' : 's'}`;
}
