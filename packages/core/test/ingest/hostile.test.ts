// What a hostile or broken file may do: grow without bound, be absurdly wide, carry names that objects know, commands for a
// terminal, or text on which a careless pattern needs minutes.
import { gzipSync } from 'fflate';
import { describe, expect, it } from 'vitest';
import { recogniseColumn } from '../../src/channels/index.js';
import { crc32 } from '../../src/ingest/crc32.js';
import { readTable } from '../../src/ingest/index.js';
import { buildRecording } from '../../src/recording/build.js';
import { bytes, codes, faultOf, tableOf } from './read.js';

const rows = (count: number, cells: (i: number) => string) =>
  Array.from({ length: count }, (_, i) => `${i},${cells(i)}\n`).join('');

async function* inPieces(data: Uint8Array, size: number): AsyncGenerator<Uint8Array> {
  for (let at = 0; at < data.length; at += size) yield data.slice(at, at + size);
}

describe('compressed data', () => {
  it('refuses a file that grows beyond the stated ratio, before it fills the memory', async () => {
    const limits = { bombBytes: 2 << 20 };
    const bomb = gzipSync(new Uint8Array(8 << 20).fill(0x31), { level: 9 });
    expect(bomb.length).toBeLessThan(10_000);
    expect((await faultOf(bomb, { limits })).code).toBe('bomb');
    // No line end in it, and the ratio is not judged yet: the bound of a line is met.
    expect((await faultOf(bomb)).code).toBe('line-too-long');
    const table = gzipSync(bytes(`time [s],RPM\n${'7,1\n'.repeat(1 << 20)}`), { level: 9 });
    expect((await faultOf(table, { limits })).code).toBe('bomb');
    // Below the size from which the ratio is judged, a log of constant values is no bomb.
    expect((await tableOf(table, { rate: 10, map: { headerLine: 1 } })).rows).toBe(1 << 20);
  });

  it('holds the values against the check sum, and takes padding for what it is', async () => {
    // One wrong bit in the sum itself: every value is right, and nobody can know.
    const packed = gzipSync(bytes(`time [s],RPM\n${rows(100, (i) => String(800 + i))}`));
    packed[packed.length - 6]! ^= 1;
    expect(codes(await tableOf(packed))).toContain('damaged-gzip');
    packed[packed.length - 6]! ^= 1;
    expect(codes(await tableOf(packed))).not.toContain('damaged-gzip');
    const padded = new Uint8Array(packed.length + 600);
    padded.set(packed);
    expect((await tableOf(padded)).rows).toBe(100);
  });

  it.each([
    // Check value of CRC-32/ISO-HDLC (Catalogue of parametrised CRC algorithms), and the empty text.
    ['123456789', 0xcbf43926],
    ['', 0],
  ])('the check sum of %j', (text, expected) => {
    expect(crc32(bytes(text), 0)).toBe(expected);
    expect(crc32(bytes(text.slice(3)), crc32(bytes(text.slice(0, 3)), 0))).toBe(expected);
  });

  it('reads as much of damaged data whatever the pieces they come in', async () => {
    const text = `time [s],RPM\n${rows(8000, (i) => String(800 + ((i * 7919) % 5000)))}`;
    const packed = gzipSync(bytes(text));
    packed[Math.floor(packed.length * 0.7)]! ^= 0x55;
    packed[Math.floor(packed.length * 0.7) + 1]! ^= 0x55;
    const whole = await readTable(packed, { name: 'x' });
    if (!whole.ok) throw new Error(whole.fault.message);
    expect(whole.table.problems.map(({ code }) => code)).toContain('damaged-gzip');
    expect(whole.table.rows).toBeGreaterThan(1000);
    for (const size of [1, 7, 4095, 4096, 5000]) {
      const cut = await readTable(inPieces(packed, size), { name: 'x' });
      expect(cut).toEqual(whole);
    }
  });

  it('reads a truncated file up to where it ends', async () => {
    const packed = gzipSync(bytes(`time [s],RPM\n${rows(8000, (i) => String(800 + ((i * 7919) % 5000)))}`));
    const table = await tableOf(packed.subarray(0, packed.length >> 1));
    expect(table.rows).toBeGreaterThan(2000);
    expect(codes(table)).toContain('damaged-gzip');
  });
});

describe('absurd sizes', () => {
  it('refuses more columns than the bound, and says how many there are', async () => {
    const wide = Array.from({ length: 5000 }, (_, i) => `c${i}`).join(',');
    const fault = await faultOf(`time,${wide}\n${rows(3, () => '1,'.repeat(4999).concat('1'))}`);
    expect([fault.code, fault.message]).toEqual(['too-wide', expect.stringContaining('5001 columns')]);
  });

  it('reads as many columns as the bound', async () => {
    const table = await tableOf(
      `time [s],${Array.from({ length: 4095 }, (_, i) => `c${i}`).join(',')}\n${rows(30, () => '1,'.repeat(4094).concat('2.5'))}`,
    );
    expect([table.columns.length, table.columns[4095]!.values[29]]).toEqual([4096, 2.5]);
  });

  it('refuses more cells than the bound instead of taking the memory', async () => {
    const fault = await faultOf(`time [s],RPM\n${rows(5000, () => '1')}`, { limits: { cells: 1000 } });
    expect(fault.code).toBe('too-large');
  });

  it('refuses a cell of two megabytes, also behind a good beginning', async () => {
    const text = `time [s],RPM\n${rows(2000, () => '1')}3000,${'9'.repeat(2 << 20)}\n`;
    expect((await faultOf(text)).code).toBe('line-too-long');
    const cut = await readTable(inPieces(bytes(text), 65_536), { name: 'x' });
    expect(cut.ok ? '' : cut.fault.code).toBe('line-too-long');
  });
});

describe('names that objects know', () => {
  const NAMES = ['__proto__', 'constructor', 'prototype', 'toString', 'hasOwnProperty', 'valueOf', '__defineGetter__'];

  it('are names like any other', async () => {
    const text = `time [s],Engine speed [rpm],${NAMES.join(',')}\n${rows(60, (i) => `${800 + i},${NAMES.join(',')}`)}`;
    const table = await tableOf(text);
    expect(table.columns.slice(2).map(({ label }) => label)).toEqual(NAMES);
    for (const [k, column] of table.columns.slice(2).entries()) expect(column.texts).toEqual([NAMES[k]]);
    const built = buildRecording(table);
    if (!built.ok) throw new Error(built.fault.message);
    expect(built.recording.unrecognised).toEqual(NAMES);
    expect([...built.recording.channels.keys()]).toEqual(['engineSpeed']);
    expect(Object.keys(Object.prototype)).toEqual([]);
    expect(({} as Record<string, unknown>).polluted).toBeUndefined();
  });

  it('are no channels, no units and no map keys', async () => {
    for (const name of NAMES) expect(recogniseColumn({ label: name }).channel).toBeUndefined();
    const map = JSON.parse('{"columns":{"__proto__":{"channel":"engineSpeed","unit":"rpm"}}}') as object;
    const table = await tableOf(`time [s],x\n${rows(60, (i) => String(800 + i))}`);
    expect(buildRecording(table, { map }).ok).toBe(false);
  });
});

describe('what a terminal obeys', () => {
  it('is taken out of names and texts', async () => {
    const table = await tableOf(
      `time [s],Engine\u001b]0;owned\u0007 speed [rpm],\u001b[31mx\u202e\n${rows(60, (i) => `${800 + i},\u001b[2Jred\u009b`)}`,
    );
    const shown = [...table.columns.flatMap(({ label, texts }) => [label, ...texts])].join('|');
    // C0, DEL, C1 (ECMA-48) and the marks that turn the reading direction (Unicode UAX 9).
    expect(shown).not.toMatch(/[\p{Cc}\u202a-\u202e\u2066-\u2069]/u);
  });
});

describe('time in proportion to the text', () => {
  // Each kind of text once with 100 kB and once with 1 MB: ten times the text may take thirty times
  // the processor's time, not a hundred.
  const KINDS: readonly (readonly [string, string])[] = [
    ['blanks', ' '],
    ['open brackets', '[('],
    ['quotes', '"'],
    ['quotes and commas', '",'],
    ['digits', '1'],
    ['digits and points', '1.'],
    ['digits and blanks', '1 234 '],
    ['underscores', 'a_'],
    ['combining marks', 'e\u0301'],
    ['colons', '10:'],
    ['dashes', '2024-'],
    ['exponents', '1e'],
    ['degree signs', 'Â°'],
    ['comments', '#'],
  ];

  async function read(text: string): Promise<number> {
    const began = process.cpuUsage();
    for (const place of [
      `time [s],${text}\n${rows(60, () => '1')}`,
      `time [s],RPM\n${rows(60, () => '1')}99,${text}\n${rows(3, () => '2')}`,
      `${text}\ntime [s],RPM\n${rows(60, () => '1')}`,
    ]) {
      const result = await readTable(bytes(place), { name: 'x' });
      if (result.ok) buildRecording(result.table);
    }
    const { user, system } = process.cpuUsage(began);
    return (user + system) / 1000;
  }

  it.each(KINDS)('%s', async (_name, unit) => {
    const of = (length: number) => unit.repeat(Math.ceil(length / unit.length));
    await read(of(10_000));
    const small = await read(of(100_000));
    const large = await read(of(1_000_000));
    expect(large).toBeLessThan(Math.max(30 * small, 3000));
  });
});

it('judges control characters by the same bytes, in whatever pieces they come', async () => {
  // 1.2 % of the first 64 KB, far less of what one large piece would give.
  const text = `time [s],RPM\n${rows(11_000, (i) => (i < 5500 && i % 8 === 0 ? '\u0001' : String(800 + (i % 90))))}`;
  const wide = new Uint8Array(2 * text.length);
  for (let i = 0; i < text.length; i++) wide[2 * i] = text.charCodeAt(i);
  const whole = await readTable(wide, { name: 'x' });
  for (const size of [49, 4096, 300_000]) expect(await readTable(inPieces(wide, size), { name: 'x' })).toEqual(whole);
  expect(whole.ok).toBe(false);
});
