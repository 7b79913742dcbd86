/**
 * The style of every page: system fonts, nothing from a network. Contrast of every text is 4.5 : 1 or more on its ground
 * (WCAG 2.2, 1.4.3), in both themes; levels carry a frame and their word besides the colour. Paper gets light ink.
 */
export const STYLE = `
:root { color-scheme: light dark; --ink: #1c2126; --quiet: #545d66; --ground: #ffffff; --panel: #f4f5f2; --line: #d5d9d2;
  --sound: #1f6245; --watch: #7a5200; --repair: #9c3a12; --stop: #97102a; --unproven: #2f5878; }
@media (prefers-color-scheme: dark) { :root { --ink: #e6e8e3; --quiet: #a9b1b5; --ground: #15191c; --panel: #1e2427;
  --line: #3a4348; --sound: #85cfa9; --watch: #e2bd6d; --repair: #f0a27c; --stop: #ff9aa8; --unproven: #9dc6e6; } }
* { box-sizing: border-box; }
body { margin: 0; background: var(--ground); color: var(--ink); font: 1rem/1.5 system-ui, sans-serif; }
main { max-width: 58rem; margin: 0 auto; padding: 1.5rem 1rem 4rem; overflow-wrap: anywhere; }
h1 { font-size: 1.6rem; line-height: 1.25; margin: 0 0 1rem; padding-left: .8rem; border-left: .4rem solid var(--line); }
h1.sound { border-color: var(--sound); } h1.watch { border-color: var(--watch); } h1.repair { border-color: var(--repair); }
h1.stop { border-color: var(--stop); } h1.unproven { border-color: var(--unproven); }
h2 { font-size: 1.15rem; margin: 2.2rem 0 .6rem; padding-bottom: .25rem; border-bottom: 1px solid var(--line); }
h2 small { font-weight: 400; color: var(--quiet); font-size: .9rem; margin-left: .6rem; }
h3 { font-size: 1rem; margin: 1.4rem 0 .3rem; font-weight: 400; }
p { margin: .4rem 0 .8rem; } ul, ol { margin: .3rem 0 .9rem; padding-left: 1.4rem; } li { margin: .2rem 0; }
dl { display: grid; grid-template-columns: minmax(6rem, max-content) 1fr; gap: .25rem 1rem; margin: .4rem 0 .9rem; padding: .7rem .9rem;
  background: var(--panel); border-radius: .4rem; } dt { color: var(--quiet); } dd { margin: 0; grid-column: 2; }
.label { color: var(--quiet); margin: .6rem 0 .1rem; }
.scroll { overflow-x: auto; } table { border-collapse: collapse; width: 100%; font-size: .95rem; }
th, td { text-align: left; min-width: 4.5rem; vertical-align: top; padding: .35rem .7rem .35rem 0; border-bottom: 1px solid var(--line); overflow-wrap: normal; }
thead th { color: var(--quiet); font-weight: 400; } tbody th { font-weight: 400; } .right { text-align: right; }
pre { background: var(--panel); padding: .7rem; overflow-x: auto; border-radius: .4rem; }
.quiet { color: var(--quiet); } .clear, .sound { color: var(--sound); } .watch { color: var(--watch); }
.repair { color: var(--repair); } .stop { color: var(--stop); } .unproven { color: var(--unproven); } h1[class] { color: var(--ink); }
h1 strong { color: var(--ink); }
strong.sound, strong.watch, strong.repair, strong.stop, strong.unproven { border: 1px solid currentColor; border-radius: .25rem;
  padding: 0 .35em; }
@media (max-width: 34rem) { dl { grid-template-columns: 1fr; gap: 0; } dd { grid-column: 1; } dt { margin-top: .4rem; } }
@media print { :root { --ink: #000; --quiet: #444; --ground: #fff; --panel: #fff; --line: #bbb; --sound: #1f6245; --watch: #6b4700;
  --repair: #8a3210; --stop: #850d24; --unproven: #274b66; } body { font-size: 10pt; } main { max-width: none; padding: 0; }
  h2, h3 { break-after: avoid; } dl, li, tr { break-inside: avoid; } dl { border: 1px solid var(--line); } .scroll { overflow: visible; }
  @page { margin: 16mm; } }
`;
