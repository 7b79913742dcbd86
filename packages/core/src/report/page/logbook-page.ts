import type { CarReport, Course, FleetReport } from '../../logbook/car-report.js';
import { dueRows } from '../due-document.js';
import { number, percent, quantity } from '../format.js';
import { blockLines } from '../html.js';
import { STYLE } from '../html-style.js';
import { carDocument, courseRows, fleetDocument, lastOf, STATE, sinceBlocks, slopeWords } from '../logbook-document.js';
import { escaped, pageOf, scrollOf } from '../page-shell.js';
import { courseSvg } from './course-svg.js';
import { badge } from './glance.js';
import { PAGE_STYLE } from './page-style.js';

/** Beside the style of every report page: bands, points, and courses below each other. */
const COURSE_STYLE = `
.plot path.band { fill: var(--t0); fill-opacity: .14; stroke: none; } .plot circle.point { fill: var(--t0); } .plot path.solid { stroke-dasharray: none; } .plot path.band.ahead { fill-opacity: .07; } .plot path.t0.ahead { stroke-dasharray: 2 5; }
.course { border-top: 1px solid var(--line); padding-top: .2rem; margin-top: 1.4rem; break-inside: avoid; }
.state { font-weight: 650; } .courses { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 26rem), 1fr)); gap: 0 2rem; } .courses figcaption b { color: var(--ink); font-weight: 600; }
@media print { .courses { grid-template-columns: 1fr 1fr; gap: 0 5mm; } .course { margin-top: .4rem; } }
`;

/**
 * The monthly page of one car: where it stands, what changed since the drive before, what is due, each measure with its course and
 * band. No script, no network; prints. Same input, same bytes.
 */
export function carPage(report: CarReport): string {
  const { car, latest, drives, first, last, distance, measures, since, due } = report;
  const told = measures.filter(({ state }) => state === 'drifting' || state === 'changed');
  const quiet = measures.filter((each) => !told.includes(each));
  const blocks = carDocument(report);
  const from = blocks.findIndex(
    (block) => block.kind === 'heading' && (block.text === 'Notes' || block.text === 'Cautions'),
  );
  const level = latest?.level ?? 'unproven';
  return pageOf({
    title: `${car}: logbook – telltale`,
    style: STYLE + PAGE_STYLE + COURSE_STYLE,
    body: [
      '<a class="skip" href="#report">to the report</a>',
      `<header class="hero act-${level}">`,
      `<p class="kicker">telltale: logbook of <b>${escaped(car)}</b></p>`,
      `<h1>${headline(told)}<span>${escaped(spanWords(drives, first, last, distance))}</span></h1>`,
      ...(latest === null
        ? []
        : [
            '<div class="verdict">',
            `<p>Verdict of the last drive ${badge(latest.level)} health index ${Math.round(latest.index.low)} to ${Math.round(latest.index.high)}, ${escaped(percent(latest.coverage))} shown</p>`,
            ...(latest.findings.length === 0
              ? []
              : [
                  '<ul>',
                  ...latest.findings.map(({ severity, summary }) => `<li>${badge(severity)} ${escaped(summary)}</li>`),
                  '</ul>',
                ]),
            '</div>',
          ]),
      '</header>',
      '<main id="report" tabindex="-1">',
      ...section(
        'since',
        'Since the drive before',
        sinceBlocks(since).flatMap((block) => (block.kind === 'heading' ? [] : blockLines(block))),
      ),
      ...section('due', 'Due', due === undefined ? [] : blockLines({ kind: 'facts', rows: dueRows(due) })),
      ...section(
        'drift',
        'Drift',
        told.length === 0 ? [`<p>${escaped(calm(measures))}</p>`] : told.flatMap(courseHtml),
      ),
      ...section(
        'courses',
        'What else is followed',
        quiet.length === 0
          ? []
          : ['<div class="courses">', ...quiet.flatMap(smallCourse), '</div>', ...tableOf(measures)],
      ),
      ...blocks.slice(from).flatMap(blockLines),
      '</main>',
    ],
  });
}

function section(id: string, title: string, lines: readonly string[]): string[] {
  if (lines.length === 0) return [];
  return [
    `<section id="${id}" aria-labelledby="${id}-h"><h2 id="${id}-h">${escaped(title)}</h2>`,
    ...lines,
    '</section>',
  ];
}

function headline(told: readonly Course[]): string {
  const drifting = told.filter(({ state }) => state === 'drifting');
  if (drifting.length > 0)
    return `<strong>${drifting.length === 1 ? 'One measure drifts' : `${drifting.length} measures drift`}</strong> `;
  return told.length > 0 ? '<strong>Something stepped</strong> ' : '<strong>Nothing drifts</strong> ';
}

function calm(measures: readonly Course[]): string {
  if (measures.length === 0) return 'No drive holds a measure that is followed.';
  return measures.every(({ state }) => state === 'too-few-drives')
    ? 'Too few drives to tell drift from chance.'
    : 'Nothing drifts beyond what weather, load and chance explain.';
}

function spanWords(drives: number, first: string | null, last: string | null, distance: CarReport['distance']): string {
  if (first === null || last === null) return 'no drive yet';
  const count = drives === 1 ? 'one drive' : `${drives} drives`;
  const km =
    distance === null ? '' : `, ${number(Math.round(distance.first))} to ${number(Math.round(distance.last))} km`;
  return `${count}, ${first.slice(0, 10)} to ${last.slice(0, 10)}${km}`;
}

function courseHtml(course: Course): string[] {
  return [
    `<article class="course"><h3><span class="state">${escaped(STATE[course.state].text)}</span> ${escaped(course.name)}</h3>`,
    `<figure class="plot"><figcaption>${escaped(course.says)}</figcaption>`,
    ...courseSvg(course),
    '</figure>',
    ...blockLines({ kind: 'facts', rows: courseRows(course).slice(1) }),
    '</article>',
  ];
}

function smallCourse(course: Course): string[] {
  return [
    `<figure class="plot"><figcaption><b>${escaped(course.name)}</b> ${escaped(STATE[course.state].text)}. ${escaped(course.says)}</figcaption>`,
    ...courseSvg(course),
    '</figure>',
  ];
}

/** The same in numbers. */
function tableOf(measures: readonly Course[]): string[] {
  return [
    '<details class="numbers"><summary>The same in numbers</summary>',
    scrollOf('measures in numbers'),
    '<table><thead><tr>',
    ...['measure', 'last', 'limit', 'change', 'state', 'drives'].map((text) => `<th scope="col">${text}</th>`),
    '</tr></thead><tbody>',
    ...measures.map((course) =>
      [
        `<tr><th scope="row">${escaped(course.name)}</th>`,
        `<td>${escaped(lastOf(course))}</td>`,
        `<td>${course.limit === null ? '' : escaped(quantity(course.limit.value, course.unit))}</td>`,
        `<td>${escaped(slopeWords(course))}</td>`,
        `<td>${escaped(STATE[course.state].text)}</td>`,
        `<td>${course.drives}</td></tr>`,
      ].join(''),
    ),
    '</tbody></table></div></details>',
  ];
}

/** Only what drifts wraps. */
const FLEET_STYLE = `
td:not(:last-child), th:not(:last-child) { white-space: nowrap; width: 1%; }
`;

/** All cars of a book as one page, the worst first. */
export function fleetPage(fleet: FleetReport): string {
  return pageOf({
    title: `${fleet.cars.length} cars: logbook – telltale`,
    style: STYLE + PAGE_STYLE + COURSE_STYLE + FLEET_STYLE,
    body: ['<main>', ...fleetDocument(fleet).flatMap(blockLines), '</main>'],
  });
}
