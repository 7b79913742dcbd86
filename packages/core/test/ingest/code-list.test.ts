import { describe, expect, it } from 'vitest';
import { readTable } from '../../src/ingest/index.js';
import type { RawReadOut } from '../../src/recording/raw-read-out.js';

const utf8 = new TextEncoder();

async function listOf(text: string | Uint8Array): Promise<RawReadOut> {
  const read = await readTable(typeof text === 'string' ? utf8.encode(text) : text, { name: 'x' });
  expect(read.kind).toBe('code-list');
  return read.ok ? expect.fail('read as a table') : read.readOut!;
}

const brief = ({ codes }: RawReadOut) => codes.map(({ code, statuses }) => `${code.code} ${statuses.join('+')}`);

describe('layouts of a code list', () => {
  const expected = ['P0301 stored', 'P0171 pending'];

  it.each([
    ['comma', 'code,status,description\nP0301,stored,Misfire\nP0171,pending,Lean\n'],
    ['semicolon, other order', 'Control unit;Status;DTC\nEngine;confirmed;P0301\nEngine;pending;P0171-00\n'],
    ['tab, no head', 'P0301\tstored\tMisfire\nP0171\tpending\tLean\n'],
    ['bar', 'Fault code|State\np0301|Active\np0171|not confirmed\n'],
    ['numbered', 'No,Code,Status\n1,P0301,stored\n2,P0171,pending\n'],
    ['dated', 'date,code,status\n2026-03-01 10:00,P0301,stored\n2026-03-01 10:00,P0171,pending\n'],
    ['plain lines', 'P0301 stored\nP0171 - pending\n'],
    ['words around', 'P0301 Misfire on one cylinder (stored)\nP0171: mixture [pending]\n'],
    ['headings', 'Stored codes:\nP0301\nPending codes:\nP0171\n'],
    ['preamble', '# all control units\nRead at the kerb\n\nP0301 stored\nP0171 pending\n'],
    ['bytes with sign', 'code,status\n0x0301,stored\n0x0171,pending\n'],
    ['bytes in a code column', 'DTC hex,status\n0301,03\n0171,07\n'],
    ['three bytes', 'code,status byte\n0x030100,2F\n0x017100,04\n'],
    ['service numbers', 'DTC,service\nP0301,03\nP0171,07\n'],
    ['carriage returns', 'code,status\rP0301,stored\rP0171,pending\r'],
  ])('%s', async (_, text) => expect(brief(await listOf(text))).toEqual(expected));

  it('reads UTF-16 and Windows-1252', async () => {
    const text = 'code;status;description\nP0301;stored;Zündung °C\nP0171;pending;\n';
    const wide = new Uint8Array(2 + 2 * text.length);
    wide.set([0xff, 0xfe]);
    for (let i = 0; i < text.length; i++) wide.set([text.charCodeAt(i) & 255, text.charCodeAt(i) >> 8], 2 + 2 * i);
    expect(brief(await listOf(wide))).toEqual(expected);
    expect(brief(await listOf(Uint8Array.from(text, (c) => c.charCodeAt(0))))).toEqual(expected);
  });

  it('joins the rows of one code, and keeps control units apart', async () => {
    const list = await listOf(
      'module,code,status\nEngine,P0301,stored\nEngine,P0301,permanent\nTransmission,P0301,pending\n',
    );
    expect(brief(list)).toEqual(['P0301 stored+permanent', 'P0301 pending']);
  });

  it.each([
    'No trouble codes stored\n',
    'Engine: no codes found\n',
    'DTCs: none\n',
    '0 codes\n',
    'code,status,description\n',
  ])('an empty memory is an answer: %j', async (text) => {
    const list = await listOf(text);
    expect(list.codes).toEqual([]);
    expect(list.problems.map(({ code }) => code)).not.toContain('no-code-read');
  });
});

describe('freeze frames', () => {
  it.each([
    ['columns', 'code,status,RPM,ECT [F]\nP0301,stored,2450,190\n'],
    ['lines below', 'P0301 stored\n  RPM: 2450\n  ECT = 190 F\n'],
    ['the same line', 'P0301 stored, RPM 2450, ECT: 190 F\n'],
    ['rows of name and value', 'code,status,parameter,value,unit\nP0301,stored,RPM,2450,rpm\n,,ECT,190,F\n'],
  ])('in %s', async (_, text) => {
    const [code] = (await listOf(text)).codes;
    expect(code!.frame.map(({ value }) => value)).toEqual([2450, 190]);
    expect(code!.frame[0]!.name).toBe('RPM');
  });
});

describe('bad code lists', () => {
  it('names the line of what is no code, and keeps the rest', async () => {
    const list = await listOf('code,status\nP0301,stored\nP4301,stored\nPX301,stored\nP0171,banana\n');
    expect(brief(list)).toEqual(['P0301 stored', 'P0171 stored']);
    expect(list.problems.map(({ code, line }) => [code, line])).toEqual([
      ['code-unreadable', 3],
      ['code-unreadable', 4],
      ['status-unknown', 5],
      ['status-assumed', 5],
    ]);
    expect(list.problems[0]!.message).toContain('"P4301"');
  });

  it('says that a status was assumed', async () => {
    const list = await listOf('P0301\nP0171\n');
    expect(brief(list)).toEqual(['P0301 stored', 'P0171 stored']);
    expect(list.problems).toMatchObject([{ code: 'status-assumed', line: 1 }]);
  });

  it('takes padding for no code', async () => {
    const list = await listOf('code,status\n0x0301,stored\n0x0000,stored\n');
    expect(brief(list)).toEqual(['P0301 stored']);
  });
});
