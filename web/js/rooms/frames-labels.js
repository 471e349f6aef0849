// What stands on a dial for a true value: 1/60 s for 1/64 s, f/3.5 for f/3.56. What no dial has stays as it is. The steps are
// thirds of a stop with the round figures that cameras label them with (common practice, no source).

const numbers = (text) => text.split(" ").map(Number);
const SHUTTERS = [
  ...numbers("32000 25600 20000 16000 12800 10000 8000 6400 5000 4000 3200 2500 2000 1600 1250 1000 800 640 500 400 320 250 200 160 125 100 80 60 50 40 30 25 20 15 13 10 8 6 5 4").map((n) => 1 / n),
  ...numbers("0.3 0.4 0.5 0.6 0.8 1 1.3 1.6 2 2.5 3.2 4 5 6 8 10 13 15 20 25 30"),
];
const APERTURES = numbers("1 1.1 1.2 1.4 1.6 1.8 2 2.2 2.5 2.8 3.2 3.5 4 4.5 5 5.6 6.3 7.1 8 9 10 11 13 14 16 18 20 22 25 29 32");
const ISOS = numbers("100 125 160 200 250 320 400 500 640 800 1000 1250 1600 2000 2500 3200 4000 5000 6400 8000 10000 12800 16000 20000 25600");

/** The label next to a value, where it is that label's at all. */
function label(value, labels, share) {
  const near = labels.reduce((best, each) => (Math.abs(Math.log(each / value)) < Math.abs(Math.log(best / value)) ? each : best));
  return Math.abs(near / value - 1) <= share ? near : value;
}

export const shutterLabel = (s) => label(s, SHUTTERS, 0.1); // 0.3 s stands for 0.315, 30 s for 32, 6 s for 6.35
export const apertureLabel = (n) => label(n, APERTURES, 0.04);
export const isoLabel = (iso) => label(iso, ISOS, 0.03);
