import { describe, expect, it } from 'vitest';
import { assess } from '../../src/engine/assess.js';
import { explainColumns } from '../../src/engine/load.js';
import { withoutPrivate } from '../../src/redaction/patterns.js';
import { redact } from '../../src/redaction/redact.js';
import { assessmentDocument } from '../../src/report/assessment-document.js';
import { columnsDocument } from '../../src/report/columns-document.js';
import { toJson } from '../../src/report/json.js';
import { renderMarkdown } from '../../src/report/markdown.js';
import { renderText } from '../../src/report/text.js';
import { RULES } from '../../src/rules/index.js';
import { UNKNOWN_VEHICLE } from '../../src/vehicle/vehicle.js';

/** Invented; the identification number has the form of ISO 3779 only. */
const SECRETS = {
  number: 'ZZ9ABCDE5FG012345',
  person: 'Ada Examplewoman',
  mail: 'ada@example.org',
  path: ['', 'home', 'ada', 'private', 'logs'].join('/'),
  windows: 'C:\\Users\\ada\\logs',
  position: '48.137154, 11.576124',
  telephone: '+49 170 1234567',
  plate: 'AB-CD 1234',
};

describe('private text', () => {
  it.each([
    [`car ${SECRETS.number} here`, 'car (identification number) here'],
    ['zz9abcde5fg012345', '(identification number)'],
    [`seen at ${SECRETS.position}.`, 'seen at (position).'],
    ['N48.1372 E011.5761', '(position)'],
    ['48°08\'14.0"N 11°34\'34.0"E', '(position)'],
    [`file ${SECRETS.path}/a.csv, ok`, 'file (path), ok'],
    [`in ${SECRETS.windows}\\a.csv`, 'in (path)'],
    [`Driver: ${SECRETS.person}, cold`, 'Driver: (name), cold'],
    [`Owner (${SECRETS.person}): not judged`, 'Owner ((name)): not judged'],
    [`ask ${SECRETS.mail}`, 'ask (e-mail)'],
    [`call ${SECRETS.telephone} now`, 'call (telephone) now'],
  ])('%j', (text, expected) => expect(withoutPrivate(text)).toBe(expected));

  it.each([
    'Fluid reached 131.2 °C at 12:08, 125 °C for 51.6 s',
    'km/h, front/rear, rpm per km/h, N·m/s',
    'watch >= 115 °C, repair >= 125 °C',
    'derived: 4 pi T / Vd (Heywood 1988 eq. 2.20)',
    'air/fuel ratio 14.7',
    'SAE J1979 / ISO 15031-5 scaling',
    '13 CCR 1968.2(e)(3)',
    'knockRetard.cylinder3',
    '0.0125, 0.6998',
    'telltale plan, telltale rules/engine.knock',
  ])('leaves alone: %j', (text) => expect(withoutPrivate(text)).toBe(text));

  it('takes time by the length of the text alone', () => {
    // ms of the processor, and the least of some: what else the machine does is not counted.
    const spent = (text: string) =>
      Math.min(
        ...Array.from({ length: 4 }, () => {
          const start = process.cpuUsage();
          withoutPrivate(text);
          return process.cpuUsage(start).user / 1000;
        }),
      );
    for (const piece of ['A1', '1.2345 ', '/a', 'driver:', 'a@', 'A:\\', '+49 1', '9', 'N4']) {
      spent(piece.repeat(2000));
      // Ten times the length; a quadratic time would be a hundredfold.
      expect(spent(piece.repeat(50_000)), piece).toBeLessThan(40 * spent(piece.repeat(5000)) + 50);
    }
  });
});

const recording = () => {
  const labels = [
    'Time [s]',
    'Engine speed [rpm]',
    `Note of ${SECRETS.person}`,
    `Driver: ${SECRETS.person}`,
    SECRETS.number,
    `Position ${SECRETS.position}`,
    `${SECRETS.path}/x`,
  ];
  const rows = Array.from({ length: 60 }, (_, i) => [
    i,
    800 + (i % 7),
    SECRETS.person,
    SECRETS.number,
    SECRETS.path,
    '48.1',
    SECRETS.mail,
  ]);
  const preamble = [`Driver: ${SECRETS.person}`, `VIN: ${SECRETS.number}`, `File: ${SECRETS.path}/a.csv`];
  return new TextEncoder().encode(
    [...preamble, ...[labels, ...rows].map((cells) => cells.map((cell) => `"${cell}"`).join(';'))].join('\n'),
  );
};
const SEARCHED = [SECRETS.number, SECRETS.mail, SECRETS.path, SECRETS.position, SECRETS.plate, 'examplewoman'];

describe('a redacted document', () => {
  const name = `${SECRETS.plate} ${SECRETS.number}.csv`;
  const files = () => [{ name, source: recording() }];

  it('holds nothing private in any output', async () => {
    const assessment = redact(
      await assess([...files(), { name: `${SECRETS.path}/b.csv`, source: new Uint8Array([65, 10]) }], {
        vehicle: { ...UNKNOWN_VEHICLE, id: SECRETS.plate },
        sheet: [
          {
            point: 'papers.identity',
            state: 'watch',
            note: `${SECRETS.number}, ${SECRETS.mail}, ${SECRETS.telephone}`,
          },
        ],
      }),
    );
    const columns = redact(await explainColumns(files()[0]!));
    const plain = { width: 80, paint: (words: string) => words };
    const blocks = [assessmentDocument(assessment, RULES), columnsDocument(columns)];
    const outputs = [
      toJson(assessment),
      toJson(columns),
      ...blocks.map((each) => renderText(each, plain)),
      ...blocks.map((each) => renderMarkdown(each)),
    ];
    for (const output of outputs) {
      const words = output.replace(/\s+/g, ' ');
      for (const secret of SEARCHED) expect(words.toLowerCase()).not.toContain(secret.toLowerCase());
      expect(words).not.toMatch(/driver: ada/i);
    }
    expect(assessment.inputs[0]!.file).toBe('file-1.csv');
    expect(assessment.vehicle.id).toBe('car-1');
  });

  it('keeps everything that is ours', async () => {
    const before = await assess([{ name: 'a', source: recording() }]);
    const after = redact(before);
    expect(after.verdict).toEqual(before.verdict);
    expect(after.results.map(({ rule, outcome }) => [rule, outcome])).toEqual(
      before.results.map(({ rule, outcome }) => [rule, outcome]),
    );
    expect(after.inputs[0]!.sha256).toBe(before.inputs[0]!.sha256);
    expect(after.cautions).toEqual(before.cautions);
  });

  it('names candidates apart', () => {
    const list = {
      schema: 'telltale/shortlist@1',
      candidates: [
        { rank: 1, name: 'Ada’s car', next: { because: 'above Bob’s car' } },
        { rank: 2, name: 'Bob’s car' },
      ],
    };
    expect(redact(list).candidates).toEqual([
      { rank: 1, name: 'candidate-1', next: { because: 'above candidate-2' } },
      { rank: 2, name: 'candidate-2' },
    ]);
  });
});
