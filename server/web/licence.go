package web

import (
	"net/http"
	"strconv"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// duePage is how many lines of what falls due stand on a page.
const duePage = 100

// licensed is what the entrance to licences shows: to the studio what falls due, to a publisher its own dealings.
type licensed struct {
	*form
	Days    int
	Staff   bool
	Alarms  []alarmLine
	Next    string // address of the next page; empty at the end
	History *pb.ListHistoryResponse
}

// alarmLine is something that somebody should look at.
type alarmLine struct {
	*pb.Alarm
	To    string // where it is looked at
	Works string
	Now   bool // wrong already
}

// licences shows what falls due.
func (s *Site) licences(v *visit) error {
	if !v.staff() {
		return s.history(v)
	}
	q := v.r.URL.Query()
	f := v.blank(q)
	if f.Value("days") == "" {
		f.typed.Set("days", "60")
	}
	page := licensed{form: f, Staff: true, Days: int(f.whole("days", "days, 1 to 3660"))}
	if !f.Faults() {
		res, err := s.services.licensing.ListAlarms(v.ctx(), &pb.ListAlarmsRequest{Days: int32(min(page.Days, 1<<30)), PageSize: duePage, PageToken: q.Get("page")})
		if err := f.refused(err, map[string]string{"days": "days"}); err != nil {
			return err
		}
		today := s.conf.Now().Format("2006-01-02")
		for _, a := range res.GetAlarms() {
			page.Alarms = append(page.Alarms, newAlarmLine(a, today))
		}
		if t := res.GetNextPageToken(); t != "" {
			page.Next = "/licences?" + query(map[string]string{"days": f.Value("days"), "page": t})
		}
	}
	code := http.StatusOK
	if f.Faults() {
		code = http.StatusBadRequest
	}
	return v.show(code, "licences.html", "Licences", page)
}

func newAlarmLine(a *pb.Alarm, today string) alarmLine {
	line := alarmLine{Alarm: a, To: "/" + a.GetName(), Now: a.GetDay() <= today}
	if n := len(a.GetWorks()); n == 1 {
		line.Works = a.GetWorks()[0]
	} else if n > 1 {
		line.Works = strconv.Itoa(n) + " pictures"
	}
	return line
}

// history shows all grants to and uses by a party, one line a picture: a publisher its own, the studio that of any party.
func (s *Site) history(v *visit) error {
	q := v.r.URL.Query()
	party := q.Get("party")
	if id := v.r.PathValue("id"); id != "" {
		party = "parties/" + id
	}
	page := licensed{form: v.blank(q), Staff: v.staff()}
	if v.party != "" || party != "" {
		var err error
		if page.History, err = s.services.licensing.ListHistory(v.ctx(), &pb.ListHistoryRequest{Party: party, PageSize: duePage, PageToken: q.Get("page")}); err != nil {
			return err
		}
		if t := page.History.GetNextPageToken(); t != "" {
			page.Next = v.r.URL.Path + "?" + query(map[string]string{"party": q.Get("party"), "page": t})
		}
	}
	return v.show(http.StatusOK, "history.html", "Licensing history", page)
}

// query writes an address's query of what isn't empty.
func query(fields map[string]string) string {
	values := make(map[string][]string, len(fields))
	for name, value := range fields {
		if value != "" {
			values[name] = []string{value}
		}
	}
	return encoded(values)
}

// work is a link to a picture of a scope: pictures/{id}, with a part after #.
type work struct{ Name, To, Title string }

// titledWorks is how many pictures of a scope are named by their titles; of more, the names must do.
const titledWorks = 40

// worksOf are the pictures of a scope, with their titles as far as the visitor may see them.
func (s *Site) worksOf(v *visit, scope *pb.Scope) ([]work, error) {
	var out []work
	for i, w := range scope.GetWorks() {
		link := work{Name: w}
		name, part, _ := strings.Cut(w, "#")
		if strings.HasPrefix(name, "pictures/") {
			link.To = "/" + name
			if i < titledWorks {
				p, err := s.services.archive.GetPicture(v.ctx(), &pb.GetPictureRequest{Name: name})
				if err := missing(err); err != nil {
					return nil, err
				}
				if link.Title = p.GetTitle(); link.Title != "" && part != "" {
					link.Title += " (" + part + ")"
				}
			}
		}
		out = append(out, link)
	}
	return out, nil
}
