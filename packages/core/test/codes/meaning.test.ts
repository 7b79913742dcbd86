import { describe, expect, it } from 'vitest';
import { MEANINGS } from '../../src/codes/meaning.js';
import { parseTroubleCode } from '../../src/codes/structure.js';
import { hasValidation, sharedText, WHERE } from '../math/published.js';

/** What a descriptor states plainly, and the word that ours must hold for it. */
const STATED: readonly (readonly [RegExp, (found: RegExpExecArray) => RegExp])[] = [
  [/\bToo Lean\b|Stuck Lean/, () => /lean/],
  [/\bToo Rich\b|Stuck Rich/, () => /rich/],
  [/\bCylinder (\d+)/, ([, n]) => new RegExp(`[Cc]ylinder ${n}\\b`)],
  [/^Gear (\d)|Gear (\d)$/, ([, a, b]) => new RegExp(`[Gg]ear ${a ?? b}\\b`)],
  [/(\d)-(\d) Shift/, ([, a, b]) => new RegExp(`${a} to ${b}`)],
  [/Reverse/, () => /[Rr]everse/],
  [/\bCircuit.* Low\b|Low Input|Low Voltage|Voltage Low/, () => /\blow\b/],
  [/\bCircuit.* High\b|High Input|High Voltage|Voltage High/, () => /\bhigh\b/],
  [/Intermittent/, () => /comes and goes/],
  [/Knock Sensor (\d)/, ([, n]) => new RegExp(`Knock sensor ${n}`)],
  [
    /\(Bank (\d) Sensor (\d)\)/,
    ([, b, s]) => new RegExp(`bank ${b}, (${s === '1' ? 'before' : 'behind'} the catalyst)`),
  ],
  [/Solenoid "(\w)"/, ([, l]) => new RegExp(`valve ${l}|[Ww]astegate valve ${l}`)],
  [/Misfire/, () => /[Mm]isfires/],
  [/Over ?[Tt]emperature|Temperature Too High/, () => /hot|heat/],
  [/Catalyst/, () => /[Cc]atalyst/],
  [/Thermostat/, () => /[Tt]hermostat/],
  [/Boost/, () => /[Bb]oost|charg/i],
  [/Communication With TCM/, () => /Transmission control unit/],
  [/Slipp/, () => /slips/],
];

describe.skipIf(!hasValidation)(`meanings against validation/dtc.csv${WHERE}`, () => {
  const rows = hasValidation
    ? sharedText('validation/dtc.csv')
        .trim()
        .split('\n')
        .slice(1)
        .map((line) => /^(\w+),(?:"((?:[^"]|"")*)"|([^,]*)),/.exec(line)!)
        .map(([, code, quoted, plain]) => [code!, (quoted ?? plain ?? '').replaceAll('""', '"')] as const)
    : [];

  it('knows every code of the reference list', () => {
    expect(rows.length).toBeGreaterThan(300);
    expect(rows.map(([code]) => code).filter((code) => !MEANINGS.has(code))).toEqual([]);
  });

  /** What the descriptors state, and the texts that do not hold it, with ours taken from the row `shift` further on. */
  function compared(shift: number): { held: number; wrong: string[] } {
    const wrong: string[] = [];
    let held = 0;
    rows.forEach(([code, descriptor], i) => {
      const ours = MEANINGS.get(rows[(i + shift) % rows.length]![0])!.text;
      for (const [stated, expected] of STATED) {
        const found = stated.exec(descriptor);
        if (found === null) continue;
        held++;
        if (!expected(found).test(ours)) wrong.push(`${code}: ${descriptor} <> ${ours}`);
      }
    });
    return { held, wrong };
  }

  it('says what the descriptors state: cylinder, bank, gear, valve, lean or rich, low or high', () => {
    const { held, wrong } = compared(0);
    expect(wrong).toEqual([]);
    expect(held).toBeGreaterThan(150);
  });

  it('would not pass if it were shifted by a row', () => {
    for (const shift of [1, rows.length - 1]) expect(compared(shift).wrong.length).toBeGreaterThan(60);
  });

  it('copies no descriptor', () => {
    const same = rows.filter(([code, text]) => MEANINGS.get(code)!.text.toLowerCase() === text.toLowerCase());
    expect(same).toEqual([]);
  });
});

describe('table of meanings', () => {
  it('holds at least 250 generic codes, each once, all of the standard', () => {
    expect(MEANINGS.size).toBeGreaterThan(500);
    for (const code of MEANINGS.keys()) expect(parseTroubleCode(code)?.owner, code).toBe('generic');
  });

  // A much-copied list is shifted by a row: these are where it shows.
  it.each([
    ['P0300', /several cylinders/],
    ['P0301', /cylinder 1\b/],
    ['P0171', /bank 1 too lean/],
    ['P0174', /bank 2 too lean/],
    ['P0217', /Engine overheated/],
    ['P0218', /Transmission fluid/],
    ['P0219', /faster than permitted/],
    ['P0141', /bank 1, behind the catalyst: heater/],
    ['P0970', /Pressure valve C/],
  ])('%s', (code, words) => expect(MEANINGS.get(code)?.text).toMatch(words));
});
