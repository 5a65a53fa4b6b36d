// @ts-check
// The page comes to life: news from the desk, controls that ask for new figures.

import { edit } from "./edit.js";
import { jobs } from "./jobs.js";
import { live } from "./live.js";
import { news } from "./news.js";
import { wave } from "./wave.js";

live();
edit();
news();
wave();
jobs();
