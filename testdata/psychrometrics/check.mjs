// Writes results.csv: what an independent psychrometric library says, for the test of internal/trade/weather to compare with.
//
//   node check.mjs > results.csv
//
// The library (psychrolib 1.1.1, MIT, pinned in package.json) is installed in a temporary folder, which is removed
// again; nothing of it stays here.
import { execFileSync } from "node:child_process";
import { copyFileSync, mkdtempSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const room = mkdtempSync(join(tmpdir(), "psychrometric-check-"));
try {
  copyFileSync(join(here, "package.json"), join(room, "package.json"));
  execFileSync("npm", ["install", "--no-audit", "--no-fund", "--ignore-scripts"], { cwd: room, stdio: ["ignore", "ignore", "inherit"] });
  const psy = createRequire(join(room, "package.json"))("psychrolib");
  psy.SetUnitSystem(psy.SI);

  const out = [
    "# What psychrolib 1.1.1 (npm, MIT; formulas of ASHRAE Handbook Fundamentals 2017) gives. Written by check.mjs with",
    `# Node.js ${process.version}. Temperatures in °C, pressures in Pa, humidity and altitude in 1 and m.`,
    "quantity,a,b,c,result",
  ];
  const row = (name, a, b, c, result) => out.push([name, a, b, c, result].join(","));

  for (let t = -40; t <= 60; t += 5) row("saturation_pa", t, "", "", psy.GetSatVapPres(t));
  for (const t of [-15, -2, 5, 12, 20, 25, 33, 40, 50])
    for (const rh of [0.1, 0.3, 0.5, 0.8, 0.95, 1])
      row("dewpoint_c", t, rh, "", psy.GetTDewPointFromRelHum(t, rh));
  for (const t of [5, 15, 25, 35, 45])
    for (const below of [0.5, 3, 8, 15]) row("humidity_from_dewpoint", t, t - below, "", psy.GetRelHumFromTDewPoint(t, t - below));
  for (const z of [0, 500, 1000, 2500]) row("standard_pa", z, "", "", psy.GetStandardAtmPressure(z));
  for (const p of [101325, 89875])
    for (const [t, w] of [[10, 8], [20, 12], [25, 20], [30, 30], [40, 20], [45, 30]])
      row("humidity_from_wetbulb", t, w, p, psy.GetRelHumFromTWetBulb(t, w, p));
  console.log(out.join("\n"));
} finally {
  rmSync(room, { recursive: true, force: true });
}
