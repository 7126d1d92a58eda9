package main

import (
	"context"

	"tautline/geo/inputerr"
	"tautline/report/band"
	"tautline/report/document"
	"tautline/strategy/athlete"
	"tautline/strategy/plan"
)

// overviewColumns is how many marks a squad's overview shows.
const overviewColumns = 5

func (p *planOutput) squad(ctx context.Context, marks []plan.Mark, base plan.Settings) error {
	o := p.o
	table, refused, err := athlete.OpenSquad(o.squad)
	if err != nil {
		return err
	}
	for _, r := range refused {
		p.e.warn("%v", r)
	}
	for _, s := range athlete.SameNames(table) {
		p.e.warn("%v", s)
	}
	results := make([]plan.Result, len(table))
	var settings []plan.Settings
	var index []int
	for i, a := range table {
		if err := ctx.Err(); err != nil {
			return err
		}
		s, err := p.athlete(a, base)
		if err != nil {
			results[i] = plan.Result{Name: a.Name, Err: err}
			continue
		}
		settings, index = append(settings, s), append(index, i)
	}
	for k, r := range plan.Squad(p.c, marks, settings) {
		results[index[k]] = r
	}
	var plans []*plan.Plan
	for _, r := range results {
		if r.Err != nil {
			p.e.warn("%s: %v", r.Name, r.Err)
			continue
		}
		plans = append(plans, r.Plan)
	}
	if len(plans) == 0 {
		return &inputerr.Error{File: o.squad, What: "no athlete of the table can be given a plan", Advice: "see the messages above"}
	}
	over := plan.NewOverview(p.c, marks, results, overviewColumns)
	if o.band != "" {
		bands, err := band.Page(plans, &over, p.options())
		if err != nil {
			return err
		}
		p.e.files.Add(o.band, bands)
	}
	if o.csv != "" {
		p.e.files.Add(o.csv, band.CSV(plans...))
	}
	if o.overview != "" {
		p.e.files.Add(o.overview, band.OverviewCSV(&over))
	}
	if o.show.json {
		err = p.e.json(document.NewSquad(p.c, results, refused))
	} else {
		p.print(band.OverviewText(&over, p.e.screen), base.Model.Describe()+", unless an athlete's settings say otherwise")
	}
	if err == nil && len(plans) < len(results)+len(refused) {
		err = errSomeRefused
	}
	return err
}
