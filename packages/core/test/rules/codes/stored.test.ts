import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { gradeCode } from '../../../src/codes/grade.js';
import { MEANINGS } from '../../../src/codes/meaning.js';
import { parseTroubleCode } from '../../../src/codes/structure.js';
import type { StoredCode } from '../../../src/recording/read-out.js';
import { weigh } from '../../../src/rules/codes/stored-weighing.js';
import { RULES } from '../../../src/rules/index.js';
import type { OtherResult } from '../../../src/rules/rule.js';
import { assessTexts, judgeTexts, values } from '../read-outs.js';

const rule = 'codes.stored';
const demo = readFileSync(fileURLToPath(new URL('../../../../../test-data/demo.csv', import.meta.url)));

function entry(code: string, status: StoredCode['statuses'][number] = 'stored', volts?: number): StoredCode {
  const frame =
    volts === undefined
      ? []
      : [
          {
            channel: 'systemVoltage',
            value: volts,
            unit: 'V',
            name: 'VPWR',
            sourceUnit: 'V',
            certainty: 'certain' as const,
            line: 1,
          },
        ];
  return { code: parseTroubleCode(code)!, statuses: [status], assumed: false, module: '', text: '', frame, line: 1 };
}

const told = (outcome: OtherResult['outcome'], cylinders?: readonly number[]): OtherResult => ({
  outcome,
  summary: '',
  ...(cylinders === undefined ? {} : { cylinders }),
});

describe('severity by status', () => {
  it.each([
    ['P0524', 'stored', 'stop'],
    ['P0524', 'permanent', 'stop'],
    ['P0524', 'pending', 'repair'],
    ['P0524', 'past', 'repair'],
    ['P0606', 'stored', 'repair'],
    ['P0606', 'pending', 'watch'],
    ['P0072', 'stored', 'watch'],
    ['P0072', 'pending', 'watch'],
    ['P1234', 'stored', 'watch'],
    ['C1234', 'stored', 'repair'],
    ['B0001', 'stored', 'watch'],
    ['P0A80', 'stored', 'repair'],
  ] as const)('%s %s counts as %s', (code, status, severity) =>
    expect(weigh([entry(code, status)], new Map())[0]!.severity).toBe(severity),
  );
});

describe('each code joined to the rules of the recording', () => {
  it.each([
    ['finding', 'confirmed', 'repair'],
    ['clear', 'contradicted', 'watch'],
    ['unproven', 'open', 'repair'],
    ['error', 'open', 'repair'],
  ] as const)('misfire rule %s: %s', (outcome, agreement, severity) => {
    const [each] = weigh([entry('P0303')], new Map([['engine.misfire', told(outcome)]]));
    expect(each).toMatchObject({ agreement, severity });
  });

  it('a pending code that the recording confirms counts in full', () =>
    expect(weigh([entry('P0303', 'pending')], new Map([['engine.misfire', told('finding')]]))[0]).toMatchObject({
      agreement: 'confirmed',
      severity: 'repair',
    }));

  it('a finding on another cylinder confirms nothing', () => {
    const of = (cylinders: readonly number[]) =>
      weigh([entry('P0303')], new Map([['engine.misfire', told('finding', cylinders)]]))[0]!.agreement;
    expect(of([1])).toBe('elsewhere');
    expect(of([1, 3])).toBe('confirmed');
  });

  it('a more distant rule that is clear contradicts nothing', () =>
    expect(
      weigh(
        [entry('P0303')],
        new Map([
          ['engine.cylinder-balance', told('clear')],
          ['engine.misfire', told('unproven')],
        ]),
      )[0]!.agreement,
    ).toBe('open'));

  it('network codes of a weak battery are a watch', () => {
    expect(
      weigh([entry('U0100'), entry('P0562')], new Map()).find(({ entry: e }) => e.code.code === 'U0100')!.severity,
    ).toBe('watch');
    expect(weigh([entry('U0100', 'stored', 8.9)], new Map())[0]).toMatchObject({ severity: 'watch', byVoltage: true });
    expect(weigh([entry('U0100', 'stored', 10)], new Map())[0]).toMatchObject({ severity: 'repair', byVoltage: false });
  });

  it('names rules of the catalogue or of the plan of the trade systems', () => {
    const systems = new Set([
      'usage',
      'transmission',
      'driveline',
      'engine',
      'fuel',
      'air',
      'exhaust',
      'electrical',
      'provenance',
    ]);
    const known = new Set(RULES.map(({ id }) => id));
    const named = [...new Set([...MEANINGS.values()].flatMap(({ rules }) => rules))];
    for (const id of named) expect(systems.has(id.split('.')[0]!), id).toBe(true);
    expect(named.filter((id) => known.has(id)).length).toBeGreaterThan(20);
  });
});

describe('with a recording', () => {
  it('confirms heat and contradicts knock in the demo drive', async () => {
    const codes = 'code,status,RPM,TFT [F]\nP0218,pending,5200,268\nP2337,stored,3100,180\nP13AB,stored,,\n';
    const { results, inputs } = await assessTexts(
      [rule, 'transmission.over-temperature', 'engine.knock'],
      [demo, codes],
    );
    const result = results.find((each) => each.rule === rule)!;
    expect(inputs.map(({ kind }) => kind)).toEqual(['recording', 'code-list']);
    expect(result).toMatchObject({
      outcome: 'finding',
      severity: 'repair',
      measures: { codes: { value: 3 }, pending: { value: 1 }, confirmed: { value: 1 }, contradicted: { value: 1 } },
    });
    expect(result.summary).toContain('P0218 (pending)');
    expect(result.summary).toContain('the recording agrees (transmission.over-temperature)');
    expect(result.summary).toContain('shows nothing of it (engine.knock clear)');
    const { codes: details } = (result as unknown as { details: { codes: Record<string, unknown>[] } }).details;
    expect(details[0]).toMatchObject({
      code: 'P0218',
      recording: 'confirmed',
      frame: { engineSpeed: { value: 5200, unit: 'rpm' } },
    });
    expect(details.find(({ code }) => code === 'P13AB')).toMatchObject({ owner: 'maker' });
  });

  it('is unproven without a code list, and says what to read', async () => {
    const result = await judgeTexts(rule, [demo.toString('utf8')]);
    expect(result).toMatchObject({ outcome: 'unproven' });
    expect(JSON.stringify(result)).toContain('stored, pending and permanent');
  });
});

describe('an empty memory', () => {
  const empty = 'No trouble codes stored\n';
  it('is clear, more surely when it was not emptied before', async () => {
    const alone = await judgeTexts(rule, [empty]);
    const { results } = await assessTexts(
      [rule, 'provenance.recent-clear'],
      [empty, values({ 'Distance since codes cleared': '9000 km', 'Warm-ups since codes cleared': 200 })],
    );
    const long = results.find((each) => each.rule === rule)!;
    expect(alone.outcome).toBe('clear');
    expect(long.outcome).toBe('clear');
    expect((long as { confidence: number }).confidence).toBeGreaterThan((alone as { confidence: number }).confidence);
  });
  it('proves nothing when it was emptied yesterday', async () => {
    const { results } = await assessTexts(
      [rule, 'provenance.recent-clear'],
      [empty, values({ 'Distance since codes cleared': '12 km' })],
    );
    expect(results.find((each) => each.rule === rule)!.outcome).toBe('unproven');
  });
  it('codes that the control unit counts and nobody read are a finding', async () => {
    const result = await judgeTexts(rule, ['name,value\nMonitor status,82 07 65 00\nLaunch count,1\n']);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch', measures: { codes: { value: 2 } } });
  });
});

it('takes a limit of the profile as the user wrote it', async () => {
  const result = await judgeTexts(rule, ['P0606 stored\n']);
  expect(result).toMatchObject({ limits: [{ name: 'watch', value: 0, comparison: '>' }] });
});

it('grades what is not in the table by its structure', () => {
  expect(gradeCode(parseTroubleCode('P0499')!)).toMatchObject({ known: false, severity: 'watch' });
  expect(gradeCode(parseTroubleCode('U3999')!)).toMatchObject({ known: false, severity: 'watch' });
});
