import { createHash } from 'node:crypto';
import { gzipSync } from 'node:zlib';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { INGEST_CODES, readTable } from '../../src/ingest/index.js';
import { bytes, codes, faultOf, tableOf } from './read.js';

const rows = (count: number, of: (i: number) => string) => Array.from({ length: count }, (_, i) => of(i)).join('\n');
const plain = `Time [s],RPM\n${rows(20, (i) => `${i},${900 + i}`)}\n`;

describe('cells', () => {
  it('takes empty, NaN, null and dashes for no sample, keeps text states, refuses hex and infinity', async () => {
    const odd = ['', 'NaN', 'null', '-', '---', 'n/a', 'inf', '0x10', '1e3', '-2.5E-1', '+7', '.5', '5.', '1e999', 'N'];
    const t = await tableOf(`Time [s],Value,Gear\n${odd.map((cell, i) => `${i},${cell},D`).join('\n')}\n`);
    const value = t.columns[1]!;
    expect([...value.values]).toEqual([...Array(8).fill(Number.NaN), 1000, -0.25, 7, 0.5, 5, Number.NaN, Number.NaN]);
    expect(value.texts).toEqual(['0x10', 'N']);
    expect([value.rejected, value.filled]).toEqual([2, 7]);
    expect(t.problems.find((p) => p.code === 'not-finite')).toMatchObject({ line: 8, column: 2, count: 2 });
    expect(t.columns[2]!.texts).toEqual(['D']);
  });

  it('passes on the unit that a whole column carries behind its numbers', async () => {
    const t = await tableOf(`Time [s],Temp,Load\n${rows(20, (i) => `${i},${80 + i} °C,${i}.5%`)}\n`);
    expect([t.columns[1]!.unitCell, t.columns[1]!.values[3], t.columns[2]!.unitCell, t.columns[2]!.values[3]]).toEqual([
      '°C',
      83,
      '%',
      3.5,
    ]);
    const mixed = await tableOf(`Time [s],Temp\n${rows(20, (i) => `${i},${80 + i} ${i === 7 ? '°F' : '°C'}`)}\n`);
    expect(mixed.problems.find((p) => p.code === 'mixed-units')).toMatchObject({ line: 9, column: 2, count: 1 });
    expect(mixed.columns[1]!.values[7]).toBeNaN();
  });

  it('refuses thousands separators with a doubt', async () => {
    const t = await tableOf(
      `Time [s];RPM;Load\n${rows(20, (i) => `${i}.5;${i === 4 ? '1.234,5' : '900.5'};${i === 9 ? '1,234' : '3.25'}`)}\n`,
    );
    expect(t.columns[1]!.values[4]).toBeNaN();
    expect(t.columns[2]!.values[9]).toBeNaN();
    expect(codes(t)).toEqual(['decimal-doubt', 'thousands-separator']);
    const comma = await tableOf(`Time [s];RPM\n${rows(20, (i) => `${i};1,${100 + i}`)}\n`);
    expect(codes(comma)).toEqual(['decimal-doubt']);
    const told = await tableOf(`Time [s];RPM\n${rows(20, (i) => `${i};1,${100 + i}`)}\n`, { map: { decimal: ',' } });
    expect([codes(told), told.columns[1]!.values[0]]).toEqual([[], 1.1]);
  });

  it('takes quoted groups of three between commas for thousands separators', async () => {
    const t = await tableOf(`Time [s],RPM,Load\n${rows(20, (i) => `${i},"1,${100 + i}",5`)}\n`);
    expect(t.columns[1]!.filled).toBe(0);
    expect(t.problems).toMatchObject([{ code: 'thousands-separator', line: 2, column: 2, count: 20 }]);
  });

  it('keeps duplicate, empty and dangerous names as data', async () => {
    const t = await tableOf(
      `Time [s],__proto__,RPM,RPM,constructor,,x\u001b[31m\u0007y\n${rows(9, (i) => `${i},1,2,3,4,5,6`)}\n`,
    );
    expect(t.columns.map((c) => c.label)).toEqual(['Time [s]', '__proto__', 'RPM', 'RPM', 'constructor', '', 'x[31my']);
    expect(t.columns.map((c) => c.values[0])).toEqual([0, 1, 2, 3, 4, 5, 6]);
  });

  it('keeps at most 64 states and counts the rest', async () => {
    const t = await tableOf(
      `Time [s],Note\n${rows(100, (i) => `${i},w${'abcdefghij'[i % 10]}${'abcdefghij'[Math.floor(i / 10)]}`)}\n`,
    );
    expect([t.columns[1]!.texts.length, t.columns[1]!.rejected, t.columns[1]!.filled]).toEqual([64, 36, 64]);
  });
});

describe('rows', () => {
  it('leaves out repeated headers, remarks in the middle and footers, and says so', async () => {
    const t = await tableOf(
      `Time [s],RPM\n0,1\n1,2\n# pause\n2,3\nTime [s],RPM\n3,4\n\nlap 2 begins\n4,5\nEnd of log,5\n`,
    );
    expect([...t.columns[1]!.values]).toEqual([1, 2, 3, 4, 5]);
    expect(t.problems.map((p) => [p.code, p.line, p.count])).toEqual([
      ['skipped-lines', 4, 3],
      ['repeated-header', 6, 1],
    ]);
  });

  it('passes over a drawn line under the names and totals under the rows', async () => {
    const t = await tableOf(
      `Time (s) | RPM\n---------|-----\n${rows(20, (i) => ` ${i} | ${900 + i} `)}\nMax | 919\nMean | 910\n`,
    );
    expect([t.rows, t.columns.map((c) => c.label + c.sourceCell).join(), t.columns[1]!.values[19]]).toEqual([
      20,
      'Time (s),RPM',
      919,
    ]);
    expect(codes(t)).toEqual(['skipped-lines']);
  });

  it('reports cells beyond the last name and rows that are short', async () => {
    const t = await tableOf(`Time [s],A,B\n${rows(20, (i) => (i === 5 ? '5,1,2,9' : i === 7 ? '7,1' : `${i},1,2`))}\n`);
    expect(t.problems.map((p) => [p.code, p.line, p.column])).toEqual([
      ['extra-cells', 7, 4],
      ['short-rows', 9, undefined],
    ]);
    expect(t.columns[2]!.values[7]).toBeNaN();
  });

  it.each([
    ['0,1.25,2.50\n1,1.25,2.50\n2,1.25,2.50\n3,1.25,2.5', 3, true],
    ['0,1.25,2.50\n1,1.25,2.50\n2,1.25,2.50\n3,1.2', 2, true],
    ['0,1.25,2.50\n1,1.25,2.50\n2,1.25,2.50\n3,1.25,2.50', 0, false],
  ])('does not trust the last cell of a cut file', async (body, column, cut) => {
    const t = await tableOf(`Time [s],A,B\n${body}`);
    expect(t.rows).toBe(4);
    expect(codes(t).includes('cut-row')).toBe(cut);
    if (cut) expect(t.columns[column - 1]!.values[3]).toBeNaN();
    else expect(t.columns[2]!.values[3]).toBe(2.5);
  });

  it('counts physical lines over quoted line breaks', async () => {
    const t = await tableOf(`"Time\n[s]",Note\n0,"a\nb"\n1,x\n2,"c\r\nd"\nnonsense line\n3,x\n`);
    expect(t.problems.find((p) => p.code === 'skipped-lines')).toMatchObject({ line: 8 });
    expect(t.columns[1]!.texts).toEqual(['a b', 'x', 'c d']);
  });

  it('takes a header that stands behind a comment sign', async () => {
    const t = await tableOf(
      `# made on a stand\n# Time [s];RPM;Coolant temperature\n${rows(20, (i) => `${i};900;80`)}\n`,
    );
    expect([t.dialect.headerLine, t.columns.map((c) => c.label)]).toEqual([
      2,
      ['Time [s]', 'RPM', 'Coolant temperature'],
    ]);
  });
});

describe('faults', () => {
  it.each([
    ['', 'empty-file'],
    ['\n\n \n', 'empty-file'],
    ['Time,RPM\n', 'too-few-rows'],
    ['Time,RPM\n0,900\n', 'too-few-rows'],
    ['Time,RPM\n,\n,\n,\n', 'all-empty'],
    ['Time [s],RPM\n0,\n1,\n2,\n', 'all-empty'],
    ['0,900\n1,901\n2,902\n', 'no-header'],
    ['just a line of prose\nand another one\n', 'no-header'],
    ['RPM,Load\n900,5\n910,6\n890,7\n', 'no-time'],
    ['t,v\n0,1,12,5\n0,2,13,5\n0,3,14,5\n', 'decimal-comma-unquoted'],
  ])('refuses %j as %s', async (text, code) => {
    const fault = await faultOf(text);
    expect(fault.code).toBe(code);
    expect(fault.message).not.toMatch(/\n/);
    expect(Object.keys(INGEST_CODES)).toContain(fault.code);
  });

  it('refuses what is not text', async () => {
    expect((await faultOf(Uint8Array.from({ length: 5000 }, (_, i) => (i * 7919) % 256))).code).toBe('not-text');
    expect((await faultOf(new Uint8Array([0x1f, 0x8b, 1, 2, 3, 4]))).code).toBe('not-text');
    expect((await faultOf(new Uint8Array([0x50, 0x4b, 3, 4, 20, 0, 0, 0, 8, 0]))).code).toBe('not-text');
    // An archive that does not compress holds a readable log after a short head.
    const log = new TextEncoder().encode(`time [s],rpm\n${'1,2\n2,3\n'.repeat(500)}`);
    for (const [mark, word] of [
      [[0x50, 0x4b, 3, 4, 20, 0], 'ZIP'],
      [[0x25, 0x50, 0x44, 0x46, 0x2d, 0x31], 'PDF'],
      [[0x89, 0x50, 0x4e, 0x47, 13, 10], 'PNG'],
      [[0xff, 0xd8, 0xff, 0xe0], 'JPEG'],
    ] as const) {
      const fault = await faultOf(Uint8Array.from([...mark, ...log]));
      expect(fault.code).toBe('not-text');
      expect(fault.message).toContain(word);
    }
  });

  it('refuses absurd widths and a line without end in bounded memory', async () => {
    const wide = (n: number) =>
      `Time,${rows(n, (i) => `c${i}`).replaceAll('\n', ',')}\n${rows(3, (r) => `${r},${'1,'.repeat(n - 1)}1`)}\n`;
    expect((await faultOf(wide(10_000))).code).toBe('too-wide');
    expect((await tableOf(wide(4000))).columns).toHaveLength(4001);
    const piece = bytes('1,2,3,4,5,6,7,8,9,'.repeat(4096));
    async function* endless() {
      for (let sent = 0; sent < 200e6; sent += piece.length) yield piece;
    }
    const quick = { update: () => {}, hex: () => '' };
    const result = await readTable(endless(), { name: 'long', hasher: quick });
    expect(result.ok ? '' : result.fault.code).toBe('line-too-long');
    const later = await readTable(bytes(`${plain}${'9'.repeat(2_000_000)}`), { name: 'long' });
    expect(later.ok ? {} : later.fault).toMatchObject({ code: 'line-too-long', line: 22 });
  });

  it('repeats no preamble text in messages', async () => {
    const secret = 'WVSECRET0123456';
    for (const text of [
      `Owner,${secret}\n${plain}`,
      `Owner,${secret}\nTime,RPM\n`,
      `${secret}\n1,2\n3,4\n`,
      `VIN;${secret};x\n`,
    ]) {
      const result = await readTable(bytes(text), { name: 'x' });
      expect(JSON.stringify(result.ok ? [result.table.problems, result.table.dialect] : result.fault)).not.toContain(
        secret,
      );
    }
  });
});

describe('source', () => {
  it('hashes the bytes as given, also when the input is refused', async () => {
    for (const text of [bytes(plain), gzipSync(plain), bytes('nothing')]) {
      expect((await readTable(text, { name: 'x' })).sha256).toBe(createHash('sha256').update(text).digest('hex'));
    }
  });

  it('reads gzip like the text, also cut short, and refuses bombs', async () => {
    const long = `Time [s],RPM\n${rows(5000, (i) => `${i},${(i * 7919) % 6000}`)}\n`;
    expect((await tableOf(gzipSync(long))).columns[1]!.values).toEqual((await tableOf(long)).columns[1]!.values);
    const zipped = gzipSync(long);
    const cut = await tableOf(zipped.subarray(0, zipped.length >> 1));
    expect(cut.rows).toBeGreaterThan(1000);
    expect(cut.rows).toBeLessThan(5000);
    expect(codes(cut)).toContain('damaged-gzip');
    const bomb = gzipSync(`Time [s],RPM\n${rows(200_000, (i) => `${i >> 1},1`)}\n`);
    expect((await faultOf(bomb, { limits: { bombBytes: 1 << 18, bombRatio: 3 } })).code).toBe('bomb');
    expect((await tableOf(bomb)).rows).toBe(200_000);
  });
});

describe('kinds', () => {
  const kind = async (text: string) => (await readTable(bytes(text), { name: 'x' })).kind;

  it('recognises stored values and code lists', async () => {
    expect(
      await kind('name,value,unit\nClutch wear,1.25,mm\nOil age,12000,km\nLaunch count,3,\nAdaptation A,0.5,V\n'),
    ).toBe('stored-values');
    expect(await kind('Clutch wear;1,25;mm\nOil age;12000;km\nLaunch count;3;\n')).toBe('stored-values');
    expect(await kind('code,status,text\nP0301,confirmed,Cylinder 1 misfire detected\nU0101,pending,\n')).toBe(
      'code-list',
    );
    expect(await kind('P0301\nP0171\n')).toBe('code-list');
    expect(await kind('P0301 stored\nP0171-00 pending, rpm 2500\n')).toBe('code-list');
    expect(await kind('1,P0301,stored\n2,P0171,pending\n')).toBe('code-list');
  });

  it('never takes a small recording for one', async () => {
    expect(await kind('Time,RPM\n0,900\n1,910\n')).toBe('recording');
    expect(await kind('Time,Gear\n0,N\n1,D\n2,D\n')).toBe('recording');
    expect(await kind('Time,RPM,Load,Last code\n0,900,20,P0301\n1,910,21,P0301\n2,905,22,P0301\n')).toBe('recording');
    expect(await kind('12:00:01,1,2\n12:00:02,1,2\n')).toBe('recording');
    expect(await kind('')).toBe('recording');
  });
});

describe('robustness', () => {
  it('never throws, whatever the bytes', async () => {
    const soup = fc.string({ unit: fc.constantFrom(...'019.,;|\t"\n\r#%-:eENa °T[]'), maxLength: 400 }).map(bytes);
    const mutated = fc
      .tuple(
        fc.array(fc.tuple(fc.nat(plain.length - 1), fc.integer({ min: 0, max: 255 })), { maxLength: 8 }),
        fc.nat(plain.length),
      )
      .map(([edits, length]) => {
        const copy = bytes(plain);
        for (const [at, byte] of edits) copy[at] = byte;
        return copy.subarray(0, length);
      });
    await fc.assert(
      fc.asyncProperty(
        fc.oneof(fc.uint8Array({ maxLength: 300 }), soup, mutated),
        fc.boolean(),
        async (input, rate) => {
          const result = await readTable(input, rate ? { name: 'x', rate: 10 } : { name: 'x' });
          if (!result.ok) {
            expect(Object.keys(INGEST_CODES)).toContain(result.fault.code);
            return;
          }
          const { time, columns, problems } = result.table;
          for (let i = 1; i < time.length; i++) expect(time[i]! > time[i - 1]!).toBe(true);
          for (const column of columns) expect(column.values.length).toBe(time.length);
          for (const problem of problems) expect(Object.keys(INGEST_CODES)).toContain(problem.code);
        },
      ),
      { numRuns: 2000 },
    );
  });

  it('reads the same from any cut of the bytes', async () => {
    const text = `\ufeffTime [s];Öl °C;Note\r\n${rows(30, (i) => `${i},5;8${i},25;"a;\r\n°${i % 3}"`).replaceAll('\n"', '\n"')}\r\n`;
    const whole = await tableOf(text);
    await fc.assert(
      fc.asyncProperty(fc.array(fc.nat(bytes(text).length), { maxLength: 20 }), async (cuts) => {
        const data = bytes(text);
        async function* pieces() {
          let at = 0;
          // The same buffer is used again, as file readers do.
          const buffer = new Uint8Array(data.length);
          for (const cut of [...cuts, data.length].sort((a, b) => a - b)) {
            buffer.set(data.subarray(at, cut));
            yield buffer.subarray(0, cut - at);
            buffer.fill(0);
            at = cut;
          }
        }
        const result = await readTable(pieces(), { name: 'x' });
        expect(result.ok && result.table).toEqual(whole);
      }),
      { numRuns: 200 },
    );
  });
});
